/** The hand that holds the camera. */
import { seededStream } from './random.js';
import type { Scene } from './scene.js';

const SHAKE_STREAM = 31;
const WOBBLE_STREAM = 32;
const SHAKE_WAVES = 3;

/** Largest displacement of any pixel by the hand, px. */
export function shakeLimitPx(scene: Scene): number {
  const { wobble, shakePx } = scene.camera;
  const reachPx = 0.5 * Math.hypot(scene.picture.widthPx, scene.picture.heightPx);
  const wobblePx = wobble ? reachPx * ((wobble.turnDeg * Math.PI) / 180 + wobble.zoom) : 0;
  return shakePx * Math.sqrt(2 / SHAKE_WAVES) * SHAKE_WAVES + wobblePx;
}

/** Whether the hand moves the picture at all. */
export function isShaken(scene: Scene): boolean {
  return scene.camera.shakePx > 0 || scene.camera.wobble !== undefined;
}

/** Turn (radians) and scale less 1 of the picture about its middle, at a time. */
export function wobbleAt(scene: Scene): (timeS: number) => { turn: number; zoom: number } {
  const { wobble } = scene.camera;
  if (!wobble) return () => ({ turn: 0, zoom: 0 });
  const draw = seededStream(scene.seed, WOBBLE_STREAM);
  const phases = [draw.between(0, 2 * Math.PI), draw.between(0, 2 * Math.PI)] as const;
  const w = (2 * Math.PI) / wobble.periodS;
  return (timeS) => ({
    turn: ((wobble.turnDeg * Math.PI) / 180) * Math.sin(w * timeS + phases[0]),
    zoom: wobble.zoom * Math.sin(1.3 * w * timeS + phases[1]),
  });
}

/** Translation of the picture by the hand, coded px, at a time; three waves of 0.7 to 6 Hz in each direction. */
export function shakeAt(scene: Scene): (timeS: number) => { xPx: number; yPx: number } {
  const draw = seededStream(scene.seed, SHAKE_STREAM);
  const waves = Array.from({ length: 2 * SHAKE_WAVES }, () => ({
    rateHz: draw.between(0.7, 6),
    phase: draw.between(0, 2 * Math.PI),
  }));
  const amplitude = scene.camera.shakePx * Math.sqrt(2 / SHAKE_WAVES);
  return (timeS) => {
    const sum = (from: number): number => {
      let total = 0;
      for (let i = from; i < from + SHAKE_WAVES; i++) {
        total += Math.sin(2 * Math.PI * waves[i]!.rateHz * timeS + waves[i]!.phase);
      }
      return amplitude * total;
    };
    return { xPx: sum(0), yPx: sum(SHAKE_WAVES) };
  };
}
