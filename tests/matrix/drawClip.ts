/** Draws one clip of the matrix: what phones, displays and hands produce, crossed at random. The same seed, the same clip. */
import { checkScene } from '../../src/simulate/checkScene.js';
import { type RandomStream, seededStream } from '../../src/simulate/random.js';
import { randomScene, withLengthOf } from '../../src/simulate/randomScene.js';
import type { DisplayKind, Scene, SceneContent, SceneLed } from '../../src/simulate/scene.js';
import { sceneSchedule } from '../../src/simulate/schedule.js';
import { asMenu } from '../menuScene.js';

/** What a clip was drawn as: one word a factor, for the table. */
export type Factors = Readonly<Record<FactorName, string>>;

/** The factors that are crossed. */
export const FACTORS = [
  'display',
  'refresh',
  'content',
  'led',
  'hand',
  'room',
  'capture',
  'exposure',
  'camera',
] as const;

/** One of the factors that are crossed. */
export type FactorName = (typeof FACTORS)[number];

/** A clip of the matrix. */
export interface MatrixClip {
  readonly scene: Scene;
  readonly factors: Factors;
  /** What the measurement is told beforehand. */
  readonly told: { readonly refresh: boolean; readonly readout: boolean; readonly edge: boolean };
}

const MATRIX_STREAM = 91;
const DISPLAYS = [
  'panel-slow',
  'panel-fast',
  'overshoot',
  'pwm',
  'strobed',
  'oled',
  'oled-black-frames',
  'tube',
  'variable-refresh',
] as const;
const REFRESHES = [50, 59.94, 60, 60.0988, 75, 120, 144, 165];
const CONTENTS = [
  'flash',
  'toggle',
  'patch',
  'low-contrast',
  'darken',
  'sprite-turn',
  'sprite-jump',
  'sprite-scroll',
  'menu',
  'patch-idle',
] as const;
const LEDS = [
  'plain',
  'plain',
  'plain',
  'dim',
  'saturated',
  'pwm',
  'slow-rise',
  'coloured',
  'off-on-press',
  'second-led',
  'bounce',
] as const;
const HANDS = ['tripod', 'tripod', 'tripod', 'shake-small', 'shake-large', 'turning', 'breathing'] as const;
const ROOMS = [
  'plain',
  'plain',
  'ripple',
  'exposure-steps',
  'drift',
  'reflection',
  'thumb',
  'passer-by',
] as const;
const RATES = [120, 240, 240, 240, 480, 960];
const EXPOSURES = [
  [0.1, 0.3],
  [0.3, 0.6],
  [0.6, 0.9],
  [0.9, 1],
  [0.9, 1],
] as const;
const CAMERAS = ['plain', 'plain', 'phone-curve', 'srgb', 'hlg-10-bit', 'full-range', 'noisy'] as const;

type Content = (typeof CONTENTS)[number];

function contentKind(content: Content): SceneContent['kind'] {
  if (content.startsWith('sprite')) return 'sprite';
  if (content === 'menu') return 'toggle';
  return content === 'patch-idle' ? 'patch' : (content as SceneContent['kind']);
}

/** The clip of a seed; 320 x 180, six to ten presses. */
export function drawClip(seed: number): MatrixClip {
  const draw = seededStream(seed, MATRIX_STREAM);
  const display = draw.pick(DISPLAYS);
  const refreshHz = draw.pick(REFRESHES);
  const content = draw.pick(CONTENTS);
  const led = draw.pick(LEDS);
  const hand = draw.pick(HANDS);
  const room = draw.pick(ROOMS);
  const captureRateHz = led === 'bounce' ? draw.pick([240, 960]) : draw.pick(RATES);
  const exposure = draw.pick(EXPOSURES);
  const camera = draw.pick(CAMERAS);
  const kinds: { readonly [K in (typeof DISPLAYS)[number]]: DisplayKind['kind'] } = {
    'panel-slow': 'panel',
    'panel-fast': 'panel',
    overshoot: 'panel',
    pwm: 'pwm',
    strobed: 'strobed',
    oled: 'oled',
    'oled-black-frames': 'strobed',
    tube: 'tube',
    'variable-refresh': 'panel',
  };
  const plain = randomScene(seed, {
    widthPx: 320,
    heightPx: 180,
    captureRateHz: [captureRateHz],
    exposureFraction: exposure,
    refreshHz: [refreshHz],
    display: [kinds[display]],
    riseTauMs: display === 'panel-slow' ? [4, 8] : [0.3, 2],
    content: [contentKind(content)],
    idle: content === 'patch-idle',
    reflection: room === 'reflection',
    rippleDepth: room === 'ripple' ? [0.02, 0.15] : [0, 0],
    driftDepth: room === 'drift' ? [0.05, 0.2] : [0, 0],
    shakePx: hand === 'shake-small' ? [0.3, 1] : hand === 'shake-large' ? [1, 3.5] : [0, 0],
    ledEdge: [led === 'off-on-press' ? 'goes-off-on-press' : 'lights-on-press'],
    toneCurve: [camera === 'phone-curve' ? 'phone' : camera === 'srgb' ? 'srgb' : 'bt709'],
    readNoise: camera === 'noisy' ? [0.01, 0.02] : [0.002, 0.006],
    shotNoise: camera === 'noisy' ? [0.03, 0.05] : [0.01, 0.02],
    presses: captureRateHz === 960 ? 6 : captureRateHz === 480 ? 8 : 10,
    misbehaviour: draw.next() < 0.2 ? 1 : 0,
    ...(display === 'variable-refresh'
      ? { refreshLocked: false, jitter: [{ kind: 'uniform', displayFrames: 1 }] }
      : {}),
  });
  let scene: Scene = { ...plain, presses: { ...plain.presses, intervalMinS: 0.4, intervalMaxS: 0.8 } };
  scene = withDisplay(scene, display, draw);
  scene = withContent(scene, content);
  scene = withLed(scene, led, draw);
  scene = withHand(scene, hand, draw);
  scene = withCamera(scene, camera);
  scene = withLengthOf(scene);
  scene = withRoom(scene, room, draw);
  const told = { refresh: draw.next() < 0.6, readout: draw.next() < 0.6, edge: draw.next() < 0.6 };
  return {
    scene: checkScene(scene),
    told: led === 'off-on-press' ? told : { ...told, edge: true },
    factors: {
      display,
      refresh: String(refreshHz),
      content,
      led,
      hand,
      room,
      capture: `${captureRateHz} fps`,
      exposure: `${exposure[0]}-${exposure[1]}`,
      camera,
    },
  };
}

function withDisplay(scene: Scene, display: (typeof DISPLAYS)[number], draw: RandomStream): Scene {
  const { screen } = scene;
  const given = screen.display;
  if (given.kind === 'panel') {
    const overshoot =
      display === 'overshoot' ? { amplitude: draw.between(0.1, 0.3), relaxMs: 3 * given.riseTauMs } : null;
    return { ...scene, screen: { ...screen, display: { ...given, overshoot } } };
  }
  if (display === 'oled-black-frames' && given.kind === 'strobed') {
    const cells = { ...given, riseTauMs: 0.1, fallTauMs: 0.1, pulseStart: 0.4, pulseShare: 0.5 };
    return { ...scene, screen: { ...screen, display: cells } };
  }
  return scene;
}

function withContent(scene: Scene, name: Content): Scene {
  const { content } = scene;
  if (content.sprite) {
    const move = name === 'sprite-jump' ? 'jump' : 'mirror';
    const jumpPx = move === 'jump' ? Math.max(2, Math.round(0.3 * content.rect.width)) : 0;
    const scroll =
      name === 'sprite-scroll' ? { scroll: { steps: 24, pxPerStep: 1.5, displayFramesPerStep: 2 } } : {};
    return { ...scene, content: { ...content, sprite: { ...content.sprite, move, jumpPx }, ...scroll } };
  }
  return name === 'menu' ? asMenu(scene) : scene;
}

function withLed(scene: Scene, name: (typeof LEDS)[number], draw: RandomStream): Scene {
  const { led, picture } = scene;
  const set = (change: Partial<SceneLed>): Scene => ({ ...scene, led: { ...led, ...change } });
  switch (name) {
    case 'dim':
      return set({ onLight: draw.between(0.05, 0.15), offLight: 0.005 });
    case 'coloured':
      return set({ onLight: draw.between(0.02, 0.06), offLight: 0.004 });
    case 'saturated':
      return set({ onLight: draw.between(2, 8), haloRadiusPx: 0.8 * led.widthPx, haloShare: 0.2 });
    case 'pwm':
      return set({ pwm: { rateHz: draw.between(300, 2000), duty: draw.between(0.3, 0.8) } });
    case 'slow-rise':
      return set({ riseMs: draw.between(2, 8) });
    case 'bounce':
      return set({
        bounces: Array.from({ length: draw.whole(1, 3) }, (_, i) => ({
          afterMs: 0.8 + 2 * i + draw.between(0, 0.8),
          openMs: draw.between(0.3, 1),
        })),
      });
    case 'second-led': {
      const below = led.centerYPx < 0.5 * picture.heightPx;
      const secondLed = {
        centerXPx: led.centerXPx + draw.between(-20, 20),
        centerYPx: led.centerYPx + (below ? 1 : -1) * draw.between(26, 45),
        widthPx: led.widthPx * draw.between(0.6, 1.2),
        light: draw.between(0.3, 0.8),
        periodS: draw.between(0.3, 1.5),
        duty: draw.pick([0.1, 0.5, 1]),
        phase: draw.next(),
      };
      return { ...scene, room: { ...scene.room, secondLed } };
    }
    default:
      return scene;
  }
}

function withHand(scene: Scene, name: (typeof HANDS)[number], draw: RandomStream): Scene {
  const { camera } = scene;
  if (name === 'turning') {
    const wobble = { turnDeg: draw.between(0.3, 1.2), zoom: 0, periodS: draw.between(2, 5) };
    return { ...scene, camera: { ...camera, wobble, shakePx: draw.between(0.3, 1) } };
  }
  if (name === 'breathing') {
    const wobble = { turnDeg: 0, zoom: draw.between(0.003, 0.012), periodS: draw.between(1, 4) };
    return { ...scene, camera: { ...camera, wobble } };
  }
  return scene;
}

function withCamera(scene: Scene, name: (typeof CAMERAS)[number]): Scene {
  const { camera } = scene;
  if (name === 'hlg-10-bit') return { ...scene, camera: { ...camera, toneCurve: 'hlg', bitDepth: 10 } };
  if (name === 'full-range') return { ...scene, camera: { ...camera, range: 'full' } };
  return scene;
}

function withRoom(scene: Scene, name: (typeof ROOMS)[number], draw: RandomStream): Scene {
  const { room, camera, led, picture } = scene;
  const endS = camera.frames / camera.captureRateHz;
  if (name === 'exposure-steps') {
    const exposureSteps = Array.from({ length: draw.whole(1, 2) }, () => ({
      atS: draw.between(0.2, 0.9) * endS,
      factor: draw.between(0.7, 1.35),
    })).sort((a, b) => a.atS - b.atS);
    return { ...scene, camera: { ...camera, exposureSteps } };
  }
  if (name === 'passer-by') {
    const passer = {
      middleS: draw.between(0.2, 0.8) * endS,
      crossS: draw.between(0.7, 2),
      widthPx: draw.between(25, 70),
      depth: draw.between(0.3, 0.8),
    };
    return { ...scene, room: { ...room, passer } };
  }
  if (name === 'thumb') {
    const size = 5 * led.widthPx;
    const left = Math.max(0, Math.round(led.centerXPx - 0.5 * size));
    const top = Math.max(0, Math.round(led.centerYPx - 0.5 * size));
    const rect = {
      x: left,
      y: top,
      width: Math.min(Math.round(size), picture.widthPx - left),
      height: Math.min(Math.round(size), picture.heightPx - top),
    };
    const moments = sceneSchedule(scene)
      .presses.filter((_, i) => i % 3 === 1)
      .map((press) => {
        const fromS = press.pressS + draw.between(-0.3, 0.3);
        return { fromS, toS: fromS + draw.between(0.05, 0.3) };
      });
    return { ...scene, room: { ...room, thumb: { rect, reflectance: 0.3, slideS: 0.06, moments } } };
  }
  return scene;
}
