/** A little colour for people's eyes: warm bench, cool screen, red LED. Chroma is never measured. */
import type { LumaPlane } from '../clip/frameSource.js';
import { ledLight } from './ledLight.js';
import { codedSize, codedToUpright } from './orient.js';
import { covers, ledShareAt } from './picture.js';
import { exposureStartS } from './renderFrame.js';
import type { Scene } from './scene.js';
import { sceneSchedule } from './schedule.js';

/** Offsets from neutral in 8-bit code values: blue difference, red difference. */
const BENCH = [-6, 5] as const;
const SCREEN = [3, -2] as const;
const LED = [-14, 46] as const;

/**
 * Fills the two quarter-size chroma planes of 4:2:0 (first Cb, then Cr) for a capture; the still part is painted
 * once. Shake is left out: the shift is far below a chroma pixel's weight for the eye.
 */
export function chromaPainter(scene: Scene, planes: LumaPlane): (capture: number) => void {
  const { width, height } = codedSize(scene.picture);
  const columns = width / 2;
  const rows = height / 2;
  const scale = scene.camera.bitDepth === 10 ? 4 : 1;
  const { presses } = sceneSchedule(scene);
  const glowing: {
    readonly at: number;
    readonly share: number;
    readonly still: readonly [number, number];
  }[] = [];
  const put = (at: number, cb: number, cr: number): void => {
    planes[at] = Math.round((128 + cb) * scale);
    planes[columns * rows + at] = Math.round((128 + cr) * scale);
  };
  for (let row = 0; row < rows; row++) {
    for (let column = 0; column < columns; column++) {
      const { x, y } = codedToUpright(scene.picture, { x: 2 * column, y: 2 * row, width: 1, height: 1 });
      const dark = covers(scene.screen.rect, x, y, scene.screen.bezelPx);
      const still = covers(scene.screen.rect, x, y) ? SCREEN : dark ? ([0, 0] as const) : BENCH;
      const at = row * columns + column;
      put(at, still[0], still[1]);
      const share = ledShareAt(scene, x, y);
      if (share > 0.02) glowing.push({ at, share: Math.sqrt(share), still });
    }
  }
  return (capture) => {
    const openS = exposureStartS(scene, capture, height / 2);
    const closeS = openS + scene.camera.exposureFraction / scene.camera.captureRateHz;
    const { led } = scene;
    const lit = Math.min(1, ledLight(led, presses, openS, closeS) / Math.max(1e-6, led.onLight));
    for (const { at, share, still } of glowing) {
      put(at, still[0] + LED[0] * share * lit, still[1] + LED[1] * share * lit);
    }
  };
}
