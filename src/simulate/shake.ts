/** The hand that holds the camera. */
import { seededStream } from './random.js';
import type { Scene } from './scene.js';

const SHAKE_STREAM = 31;
const SHAKE_WAVES = 3;

/** Largest translation that `shakeAt` can give, px. */
export function shakeLimitPx(scene: Scene): number {
  return scene.camera.shakePx * Math.sqrt(2 / SHAKE_WAVES) * SHAKE_WAVES;
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
