/** Draws a scene within given ranges: the raw material of accuracy tests. */
import type { PixelRect } from '../clip/frameSource.js';
import { checkScene } from './checkScene.js';
import { seededStream } from './random.js';
import type { DisplayKind, Scene, SceneContent } from './scene.js';
import type { Range, SceneOptions } from './sceneOptions.js';
import { sceneSchedule } from './schedule.js';

const LAYOUT_STREAM = 41;
const CHOICE_STREAM = 42;
/** Time filmed after the last press, s: the longest answer and a way back. */
const TAIL_S = 0.7;

function rectOf(x: number, y: number, width: number, height: number): PixelRect {
  return { x: Math.round(x), y: Math.round(y), width: Math.round(width), height: Math.round(height) };
}

/** Brightness that a pulsed display needs so that one pulse caught whole does not clip. */
function whiteLightFor(
  kind: DisplayKind['kind'],
  refreshHz: number,
  captureRateHz: number,
  exposure: number,
): number {
  if (kind !== 'tube' && kind !== 'strobed') return 0.7;
  return Math.min(0.7, (0.8 * exposure * refreshHz) / captureRateHz);
}

/** A random scene; the same seed and options give the same scene. Its length follows from its presses. */
export function randomScene(seed: number, options: SceneOptions = {}): Scene {
  const draw = seededStream(seed, LAYOUT_STREAM);
  const choose = seededStream(seed, CHOICE_STREAM);
  const range = (given: Range | undefined, low: number, high: number): number =>
    given ? choose.between(given[0], given[1]) : choose.between(low, high);
  const pick = <T>(given: readonly T[] | undefined, plain: T): T =>
    given && given.length > 0 ? choose.pick(given) : plain;

  const widthPx = options.widthPx ?? 480;
  const heightPx = options.heightPx ?? 270;
  const wide = widthPx >= heightPx;
  const rotationDeg = pick(options.rotationDeg, 0);
  const captureRateHz = pick(options.captureRateHz, 240);
  const exposureFraction = range(options.exposureFraction, 0.9, 1);
  const readoutFraction = range(options.readoutFraction, 0.5, 0.9);
  const refreshHz = pick(options.refreshHz, 60);
  const kind = pick(options.display, 'panel');
  const riseTauMs = range(options.riseTauMs, 0.5, 4);
  const fallTauMs = riseTauMs * choose.between(0.5, 1.5);
  const displays: { readonly [K in DisplayKind['kind']]: DisplayKind } = {
    panel: {
      kind: 'panel',
      riseTauMs,
      fallTauMs,
      overshoot: choose.next() < 0.3 ? { amplitude: choose.between(0.1, 0.3), relaxMs: 2 * riseTauMs } : null,
    },
    oled: { kind: 'oled', tauMs: choose.between(0.05, 0.2) },
    tube: { kind: 'tube', decayMs: choose.between(0.1, 1) },
    strobed: {
      kind: 'strobed',
      riseTauMs,
      fallTauMs,
      pulseStart: choose.between(0.6, 0.9),
      pulseShare: 0.08,
    },
    pwm: {
      kind: 'pwm',
      riseTauMs,
      fallTauMs,
      rateHz: choose.between(200, 1000),
      duty: choose.between(0.3, 0.8),
    },
  };

  // The screen fills one side of the picture (or its upper part), the stick with the LED stands on the other.
  const screenWidth = (wide ? 0.5 : 0.8) * widthPx * draw.between(0.85, 1.05);
  const screenHeight = Math.min(screenWidth * draw.pick([0.75, 0.5625]), (wide ? 0.8 : 0.5) * heightPx);
  const onRight = draw.next() < 0.5;
  const screenX = wide
    ? onRight
      ? 0.96 * widthPx - screenWidth
      : 0.04 * widthPx
    : (widthPx - screenWidth) / 2;
  const screenY = wide ? draw.between(0.06, 0.94 - screenHeight / heightPx) * heightPx : 0.07 * heightPx;
  const screen = rectOf(screenX, screenY, screenWidth, screenHeight);
  const ledSize = Math.max(4, draw.between(0.016, 0.03) * Math.max(widthPx, heightPx));
  const ledX = wide
    ? onRight
      ? draw.between(0.12, 0.28)
      : draw.between(0.72, 0.88)
    : draw.between(0.25, 0.75);
  const ledY = wide ? draw.between(0.15, 0.85) : draw.between(0.76, 0.88);
  const contentKind = pick(options.content, 'flash');
  const small = contentKind === 'patch' || contentKind === 'sprite';
  const contentRect = small
    ? rectOf(
        screen.x + screen.width * draw.between(0.1, 0.5),
        screen.y + screen.height * draw.between(0.1, 0.45),
        screen.width * 0.35,
        screen.height * 0.35,
      )
    : screen;
  const idleRect = rectOf(
    screen.x + 0.1 * screen.width,
    screen.y + 0.88 * screen.height,
    0.8 * screen.width,
    0.06 * screen.height,
  );
  const lights: { readonly [K in SceneContent['kind']]: readonly [number, number] } = {
    flash: [draw.between(0.02, 0.1), draw.between(0.7, 1)],
    toggle: [draw.between(0.02, 0.1), draw.between(0.7, 1)],
    patch: [draw.between(0.02, 0.1), draw.between(0.7, 1)],
    sprite: [0.3, 0.3],
    darken: [draw.between(0.6, 0.9), draw.between(0.02, 0.1)],
    'low-contrast': [0.4, draw.between(0.44, 0.48)],
  };
  const faults = options.misbehaviour ?? 0;
  const presses = options.presses ?? 12;
  const order = Array.from({ length: presses }, (_, i) => i);
  for (let i = order.length - 1; i > 0; i--) {
    const j = draw.whole(0, i);
    [order[i], order[j]] = [order[j]!, order[i]!];
  }
  const rippleDepth = options.rippleDepth ? range(options.rippleDepth, 0, 0) : 0;
  const driftDepth = options.driftDepth ? range(options.driftDepth, 0, 0) : 0;
  const scene: Scene = {
    name: `scene-${seed}`,
    seed,
    picture: { widthPx, heightPx, rotationDeg },
    led: {
      shape: draw.pick(['rect', 'disc'] as const),
      centerXPx: ledX * widthPx,
      centerYPx: ledY * heightPx,
      widthPx: ledSize,
      heightPx: ledSize,
      haloRadiusPx: 0.5 * ledSize,
      haloShare: 0.25,
      offLight: 0.01,
      onLight: range(options.ledValue, 0.5, 0.8),
      riseMs: 0.01,
      pwm: null,
      edge: pick(options.ledEdge, 'lights-on-press'),
      holdS: draw.between(0.1, 0.16),
    },
    screen: {
      rect: screen,
      refreshHz,
      phase: draw.next(),
      activeFraction: 0.96,
      direction: 'down',
      display: displays[kind],
      whiteLight: whiteLightFor(kind, refreshHz, captureRateHz, exposureFraction),
      bezelPx: Math.max(2, Math.round(0.012 * widthPx)),
    },
    content: {
      kind: contentKind,
      rect: contentRect,
      backgroundLight: 0.3,
      restLight: lights[contentKind][0],
      activeLight: lights[contentKind][1],
      textureDepth: contentKind === 'sprite' ? 0.5 : 0.1,
      holdDisplayFrames: 8,
      sprite:
        contentKind === 'sprite'
          ? {
              move: draw.pick(['mirror', 'jump'] as const),
              widthPx: Math.round(0.55 * contentRect.width),
              heightPx: Math.round(0.8 * contentRect.height),
              jumpPx: 0,
              contrast: 0.8,
            }
          : null,
      idle:
        options.idle && contentKind !== 'flash' && small
          ? { rect: idleRect, steps: 6, displayFramesPerStep: 7, light: 0.8 }
          : null,
    },
    room: {
      ambientLight: 0.5,
      ripple:
        rippleDepth > 0
          ? { rateHz: choose.pick([100, 120]), depth: rippleDepth, phase: choose.next() }
          : null,
      textureDepth: 0.2,
      reflection: options.reflection
        ? {
            rect: rectOf(screen.x, Math.min(heightPx - 12, screen.y + screen.height + 6), screen.width, 10),
            share: 0.08,
          }
        : null,
    },
    camera: {
      captureRateHz,
      frames: 1,
      exposureFraction,
      readoutFraction,
      gain: 1,
      readNoise: range(options.readNoise, 0.002, 0.006),
      shotNoise: range(options.shotNoise, 0.01, 0.02),
      toneCurve: pick(options.toneCurve, 'bt709'),
      bitDepth: pick(options.bitDepth, 8),
      range: 'limited',
      shakePx: options.shakePx ? range(options.shakePx, 0, 0) : 0,
      drift: driftDepth > 0 ? { depth: driftDepth, periodS: choose.between(2, 5) } : null,
      droppedFrames: [],
      doubledFrames: [],
      storedRateHz: null,
      captureTag: false,
    },
    presses: {
      count: presses,
      leadInS: 0.35,
      intervalMinS: 0.35,
      intervalMaxS: 0.9,
      ignored: order.slice(0, faults),
      unpromptedAfter: order.slice(faults, 2 * faults),
      doubledAt: order.slice(2 * faults, 3 * faults),
      doubleGapS: draw.between(0.04, 0.08),
    },
    latency: {
      fixedDelayMs: range(options.fixedDelayMs, 30, 90),
      jitter: pick(options.jitter, { kind: 'none' }),
      refreshLocked: options.refreshLocked ?? true,
    },
  };
  return checkScene(withLengthOf(withJump(scene)));
}

function withJump(scene: Scene): Scene {
  const { sprite, rect } = scene.content;
  if (sprite?.move !== 'jump') return scene;
  const jumpPx = Math.max(2, Math.round(0.3 * rect.width));
  return { ...scene, content: { ...scene.content, sprite: { ...sprite, jumpPx } } };
}

/** The scene with as many frames as its presses need, and a tail for the last answer. */
export function withLengthOf(scene: Scene, tailS = TAIL_S): Scene {
  const lastS = sceneSchedule(scene).presses.at(-1)?.pressS ?? 0;
  const frames = Math.ceil((lastS + tailS) * scene.camera.captureRateHz);
  return { ...scene, camera: { ...scene.camera, frames } };
}
