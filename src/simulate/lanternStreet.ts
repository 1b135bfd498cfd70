/**
 * Sample scenes of *Lantern Street*, an invented community arcade workshop that compares three invented adapters,
 * Alder, Birch and Cedar, on a bench with two flat panels and a tube display.
 */
import { randomScene, withLengthOf } from './randomScene.js';
import type { Scene, SceneScreen } from './scene.js';

/** Names of the sample scenes. */
export type LanternStreetScene = 'alder-flat' | 'birch-variable' | 'cedar-sprite' | 'bench-tube';

const PICTURE = { widthPx: 480, heightPx: 270, rotationDeg: 0 } as const;

function base(name: LanternStreetScene, seed: number): Scene {
  const drawn = randomScene(seed, { exposureFraction: [0.95, 0.95], readoutFraction: [0.7, 0.7] });
  return {
    ...drawn,
    name,
    picture: PICTURE,
    room: { ...drawn.room, textureDepth: 0.22, ambientLight: 0.45 },
    camera: { ...drawn.camera, readNoise: 0.0025, shotNoise: 0.008 },
    presses: { ...drawn.presses, count: 24, intervalMinS: 0.38, intervalMaxS: 0.62 },
  };
}

function screenAt(
  x: number,
  y: number,
  width: number,
  height: number,
  more: Partial<SceneScreen>,
  from: Scene,
): SceneScreen {
  return { ...from.screen, rect: { x, y, width, height }, bezelPx: 6, ...more };
}

/** A fixed-lag flat panel: full flash, LED level with the screen's middle. Stored slowed down to 30 fps, with tag. */
function alderFlat(): Scene {
  const from = base('alder-flat', 101);
  const screen = screenAt(
    204,
    44,
    240,
    180,
    {
      display: { kind: 'panel', riseTauMs: 2.2, fallTauMs: 1.6, overshoot: null },
      refreshHz: 60,
      phase: 0.37,
      whiteLight: 0.65,
    },
    from,
  );
  return {
    ...from,
    led: {
      ...from.led,
      shape: 'disc',
      centerXPx: 92,
      centerYPx: 134,
      widthPx: 11,
      heightPx: 11,
      onLight: 0.7,
    },
    screen,
    content: {
      ...from.content,
      kind: 'flash',
      rect: screen.rect,
      restLight: 0.05,
      activeLight: 0.95,
      sprite: null,
    },
    camera: {
      ...from.camera,
      exposureFraction: 0.95,
      readoutFraction: 0.7,
      storedRateHz: 30,
      captureTag: true,
    },
    latency: { fixedDelayMs: 46.2, jitter: { kind: 'none' }, refreshLocked: true },
  };
}

/** An adapter that is up to two display frames late, at random. LED below the screen's middle; stored slowed down. */
function birchVariable(): Scene {
  const from = base('birch-variable', 102);
  const screen = screenAt(
    36,
    40,
    250,
    141,
    {
      display: { kind: 'panel', riseTauMs: 3.1, fallTauMs: 2.4, overshoot: { amplitude: 0.15, relaxMs: 6 } },
      refreshHz: 59.94,
      phase: 0.81,
      whiteLight: 0.6,
    },
    from,
  );
  return {
    ...from,
    led: {
      ...from.led,
      shape: 'rect',
      centerXPx: 386,
      centerYPx: 150,
      widthPx: 10,
      heightPx: 10,
      onLight: 0.75,
    },
    screen,
    content: {
      ...from.content,
      kind: 'patch',
      rect: { x: 96, y: 62, width: 130, height: 74 },
      backgroundLight: 0.18,
      restLight: 0.04,
      activeLight: 0.9,
      sprite: null,
    },
    room: { ...from.room, ripple: { rateHz: 100, depth: 0.06, phase: 0.2 } },
    camera: {
      ...from.camera,
      exposureFraction: 0.92,
      readoutFraction: 0.65,
      storedRateHz: 30,
      captureTag: true,
    },
    latency: { fixedDelayMs: 52.8, jitter: { kind: 'uniform', displayFrames: 2 }, refreshLocked: true },
  };
}

/** A figure that turns round instead of a flash, over a textured field; one press is ignored. Stored as captured. */
function cedarSprite(): Scene {
  const from = base('cedar-sprite', 103);
  const screen = screenAt(
    210,
    60,
    244,
    152,
    {
      display: { kind: 'panel', riseTauMs: 1.8, fallTauMs: 2.6, overshoot: null },
      refreshHz: 60,
      phase: 0.12,
      whiteLight: 0.7,
    },
    from,
  );
  return {
    ...from,
    led: {
      ...from.led,
      shape: 'disc',
      centerXPx: 100,
      centerYPx: 138,
      widthPx: 12,
      heightPx: 12,
      onLight: 0.7,
    },
    screen,
    content: {
      ...from.content,
      kind: 'sprite',
      rect: { x: 284, y: 96, width: 96, height: 80 },
      backgroundLight: 0.3,
      textureDepth: 0.5,
      holdDisplayFrames: 12,
      sprite: { move: 'mirror', widthPx: 60, heightPx: 66, jumpPx: 0, contrast: 0.8 },
    },
    camera: {
      ...from.camera,
      exposureFraction: 0.95,
      readoutFraction: 0.75,
      storedRateHz: null,
      captureTag: false,
    },
    presses: { ...from.presses, ignored: [8] },
    latency: { fixedDelayMs: 33.5, jitter: { kind: 'none' }, refreshLocked: true },
  };
}

/** The bench's tube display without any adapter: the reference. LED above the screen's middle. Stored as captured. */
function benchTube(): Scene {
  const from = base('bench-tube', 104);
  const screen = screenAt(
    40,
    48,
    220,
    165,
    {
      display: { kind: 'tube', decayMs: 0.35 },
      refreshHz: 59.94,
      phase: 0.55,
      activeFraction: 0.914,
      whiteLight: 0.17,
      bezelPx: 9,
    },
    from,
  );
  return {
    ...from,
    led: {
      ...from.led,
      shape: 'disc',
      centerXPx: 376,
      centerYPx: 84,
      widthPx: 11,
      heightPx: 11,
      onLight: 0.7,
    },
    screen,
    content: {
      ...from.content,
      kind: 'flash',
      rect: screen.rect,
      restLight: 0.04,
      activeLight: 0.95,
      holdDisplayFrames: 10,
      sprite: null,
    },
    room: { ...from.room, ambientLight: 0.3 },
    camera: {
      ...from.camera,
      exposureFraction: 0.95,
      readoutFraction: 0.7,
      storedRateHz: null,
      captureTag: true,
    },
    latency: { fixedDelayMs: 17.9, jitter: { kind: 'none' }, refreshLocked: true },
  };
}

/** The four sample scenes, each about nine seconds of capture at 240 fps. */
export function lanternStreetScenes(): readonly Scene[] {
  return [alderFlat(), birchVariable(), cedarSprite(), benchTube()].map((scene) => withLengthOf(scene));
}

/** One sample scene by its name; undefined where there is none of that name. */
export function lanternStreetScene(name: string): Scene | undefined {
  return lanternStreetScenes().find((scene) => scene.name === name);
}
