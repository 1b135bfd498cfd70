/**
 * A clip of a large diffuse light of known frequency, as one films to calibrate a camera: exact exposure integrals row
 * by row, no codec.
 */
import type { ClipFacts, FrameSource, FrameTimes, LumaPlane, PixelRect } from '../clip/frameSource.js';
import { expected } from '../errors.js';
import { codedSize } from './orient.js';
import type { Scene, SceneCamera } from './scene.js';
import { sensor } from './sensor.js';

/** The light and the camera before it. */
export interface FlickerScene {
  readonly name: string;
  /** Whole number; only the sensor's noise is drawn from it. */
  readonly seed: number;
  readonly picture: Scene['picture'];
  readonly camera: Omit<SceneCamera, 'shakePx'>;
  readonly light: {
    readonly rateHz: number;
    readonly waveform: 'sine' | 'square';
    /** Share of a period in which a square light is on. */
    readonly duty: number;
    /** Phase at the clip's start, share of a period. */
    readonly phase: number;
    /** Share of the light that flickers, 0..1. */
    readonly depth: number;
    /** Light averaged over a period, in the middle of the picture. */
    readonly meanLight: number;
  };
  /** Steady light of the room, in the middle of the picture. */
  readonly ambientLight: number;
  /** How much darker the corners are than the middle, 0..1. */
  readonly vignette: number;
}

const TIME_BASE = [1, 90_000] as const;
const FRAMES_PER_BREATH = 200;

/** Mean of the light over [fromS, toS] as a share of its mean over a period; exact. */
export function meanFlicker(light: FlickerScene['light'], fromS: number, toS: number): number {
  const from = light.rateHz * fromS + light.phase;
  const to = light.rateHz * toS + light.phase;
  const mean =
    light.waveform === 'sine'
      ? 1 - (Math.cos(2 * Math.PI * to) - Math.cos(2 * Math.PI * from)) / (2 * Math.PI * (to - from))
      : (onCycles(to, light.duty) - onCycles(from, light.duty)) / (light.duty * (to - from));
  return 1 - light.depth + light.depth * mean;
}

/** Cycles spent on since 0. */
function onCycles(cycles: number, duty: number): number {
  const whole = Math.floor(cycles);
  return whole * duty + Math.min(cycles - whole, duty);
}

/** The clip of a flicker scene. Frames are rendered while they are read. */
export function flickerSource(scene: FlickerScene): FrameSource {
  const { picture, camera } = scene;
  const { width, height } = codedSize(picture);
  const dropped = new Set(camera.droppedFrames);
  const captures = Array.from({ length: camera.frames }, (_, k) => k).filter((k) => !dropped.has(k));
  const facts = factsOf(scene, width, height, captures.length);
  const ticksPerFrame = TIME_BASE[1] / (camera.storedRateHz ?? camera.captureRateHz);
  const periodS = 1 / camera.captureRateHz;
  const develop = sensor({ ...camera, shakePx: 0 }, scene.seed, 1);
  const doubled = new Set(camera.doubledFrames);
  const plane = (count: number): LumaPlane =>
    camera.bitDepth > 8 ? new Uint16Array(count) : new Uint8Array(count);

  const render = (capture: number, rect: PixelRect, columns: Int32Array, out: LumaPlane): void => {
    const shown = doubled.has(capture) ? capture - 1 : capture;
    const values = new Float32Array(rect.width);
    for (let row = 0; row < rect.height; row++) {
      const y = rect.y + row;
      const openS = (shown + (camera.readoutFraction * y) / height) * periodS;
      const flicker = meanFlicker(scene.light, openS, openS + camera.exposureFraction * periodS);
      const drift = camera.drift
        ? 1 + camera.drift.depth * Math.sin((2 * Math.PI * openS) / camera.drift.periodS)
        : 1;
      const light = camera.gain * drift * (scene.ambientLight + scene.light.meanLight * flicker);
      const v = (2 * (y + 0.5)) / height - 1;
      for (let i = 0; i < rect.width; i++) {
        const u = (2 * (rect.x + i + 0.5)) / width - 1;
        values[i] = light * (1 - (scene.vignette * (u * u + v * v)) / 2);
      }
      develop(values, rect.width, shown, y, columns, 0, out, row * rect.width);
    }
  };

  return {
    facts,
    async readRects(rects, onFrame, { signal, onProgress } = {}): Promise<FrameTimes> {
      signal?.throwIfAborted();
      const planes = rects.map((r) => plane(r.width * r.height));
      const columns = rects.map((r) => Int32Array.from({ length: r.width }, (_, i) => r.x + i));
      const ticks: number[] = [];
      let stoppedEarly = false;
      for (const [index, capture] of captures.entries()) {
        if (index % FRAMES_PER_BREATH === FRAMES_PER_BREATH - 1) {
          await new Promise((resolve) => setTimeout(resolve, 0));
          onProgress?.(index);
        }
        signal?.throwIfAborted();
        for (const [i, rect] of rects.entries()) render(capture, rect, columns[i]!, planes[i]!);
        ticks.push(Math.round((capture - captures[0]!) * ticksPerFrame));
        if (onFrame(index, planes) === false) {
          stoppedEarly = true;
          break;
        }
      }
      return {
        ptsTicks: Float64Array.from(ticks),
        timeBase: [...TIME_BASE],
        stoppedEarly,
        damagedFrames: 0,
      };
    },
    readOverview() {
      return Promise.reject(expected('readOverview', 'called on a clip with regions to find', scene.name));
    },
    readStill() {
      return Promise.reject(expected('readStill', 'called on a clip with something to see', scene.name));
    },
  };
}

function factsOf(scene: FlickerScene, width: number, height: number, frames: number): ClipFacts {
  const { camera } = scene;
  return {
    file: `${scene.name}.simulated`,
    bytes: 0,
    sha256: '0'.repeat(64),
    container: 'simulated',
    codec: 'simulated',
    codedWidth: width,
    codedHeight: height,
    orientation: { rotationDeg: scene.picture.rotationDeg, mirrored: false },
    pixelFormat: camera.bitDepth === 10 ? 'gray10le' : 'gray',
    bitDepth: camera.bitDepth,
    range: camera.range,
    rangeTagged: true,
    transfer: camera.toneCurve === 'phone' ? 'bt709' : camera.toneCurve,
    transferTagged: true,
    timeBase: [...TIME_BASE],
    declaredFrames: frames,
    nominalRateHz: camera.storedRateHz ?? camera.captureRateHz,
    captureRateTagHz: camera.captureTag ? camera.captureRateHz : null,
    editList: 'none',
    decoder: 'simulated',
    warnings: [],
  };
}
