/** A step of exposure changes the whole picture; only what changes besides changes by itself. */
import { describe, expect, it } from 'vitest';
import { blockContrasts, type Overview } from '../../src/region/activity.js';
import { changesByItself } from '../../src/region/commonChanges.js';
import { seededStream } from '../../src/simulate/random.js';

const RATE_HZ = 240;
const COLUMNS = 40;
const ROWS = 24;
const FRAMES = 3 * RATE_HZ;
const STEP_AT = 400;
const SCREEN = { x: 12, y: 8, width: 14, height: 8 };

const isInside = (x: number, y: number) =>
  x >= SCREEN.x && x < SCREEN.x + SCREEN.width && y >= SCREEN.y && y < SCREEN.y + SCREEN.height;

/** A grey room whose exposure falls at one moment (by `factor`), with a screen that flashes now and then. */
function film(factor: number): Overview {
  const draw = seededStream(3, 1);
  const luma = new Uint8Array(FRAMES * ROWS * COLUMNS);
  for (let k = 0; k < FRAMES; k++) {
    const flashes = k % 150 > 110;
    for (let y = 0; y < ROWS; y++) {
      for (let x = 0; x < COLUMNS; x++) {
        const light = isInside(x, y) ? (flashes ? 140 : 100) : 90;
        const seen = (k < STEP_AT ? 1 : factor) * light;
        luma[(k * ROWS + y) * COLUMNS + x] = Math.round(seen + draw.between(-1, 1));
      }
    }
  }
  return { columns: COLUMNS, rows: ROWS, frames: FRAMES, luma, rateHz: RATE_HZ };
}

const blocksOf = (isWanted: (x: number, y: number) => boolean): number[] =>
  Array.from({ length: ROWS * COLUMNS }, (_, b) => b).filter((b) =>
    isWanted(b % COLUMNS, Math.floor(b / COLUMNS)),
  );

describe('what changes by itself', () => {
  it('is the screen, and not the room whose exposure the camera changes', () => {
    const overview = film(0.8);
    const active = blockContrasts(overview);
    // The step shows all over the picture.
    expect(active.size).toBe(COLUMNS * ROWS);
    expect([...changesByItself(active, overview)].sort((a, b) => a - b)).toEqual(blocksOf(isInside));
  });

  it('is all that is active where the exposure stays', () => {
    const overview = film(1);
    const active = blockContrasts(overview);
    expect(active.size).toBe(SCREEN.width * SCREEN.height);
    expect([...changesByItself(active, overview)]).toEqual([...active.keys()]);
  });
});
