/** What a light leads, of several parts that change after it. */
import { describe, expect, it } from 'vitest';
import { blockContrasts, type Overview } from '../../src/region/activity.js';
import { leaders } from '../../src/region/leaders.js';
import { ledCandidates } from '../../src/region/ledCandidates.js';
import { findPatches } from '../../src/region/patches.js';
import { seededStream } from '../../src/simulate/random.js';

const RATE_HZ = 120;
const COLUMNS = 64;
const ROWS = 36;
const LED = { x: 50, y: 16, width: 2, height: 2 };
const SCREEN = { x: 8, y: 10, width: 10, height: 8 };
/** Something large and strong that changes after the presses, but now and then much later, such as a passer-by. */
const PASSER = { x: 24, y: 0, width: 20, height: ROWS };
const PRESSES = [60, 150, 260, 345, 450, 560, 655, 770];
const PASSES_AFTER = [6, 7, 19, 5, 23, 6, 17, 5];

const holds = (r: typeof LED, x: number, y: number) =>
  x >= r.x && x < r.x + r.width && y >= r.y && y < r.y + r.height;

function film(): Overview {
  const draw = seededStream(11, 1);
  const frames = 900;
  const luma = new Uint8Array(frames * ROWS * COLUMNS);
  for (let k = 0; k < frames; k++) {
    const lit = PRESSES.some((p) => k >= p && k < p + 14);
    const answers = PRESSES.some((p) => k >= p + 8 && k < p + 24);
    const passes = PRESSES.some((p, i) => k >= p + PASSES_AFTER[i]! && k < p + PASSES_AFTER[i]! + 12);
    for (let y = 0; y < ROWS; y++) {
      for (let x = 0; x < COLUMNS; x++) {
        let v = 80;
        if (holds(PASSER, x, y)) v = passes ? 50 : 80;
        if (holds(SCREEN, x, y)) v = answers ? 100 : 70;
        if (holds(LED, x, y)) v = lit ? 170 : 30;
        luma[(k * ROWS + y) * COLUMNS + x] = Math.round(v + draw.between(-1, 1));
      }
    }
  }
  return { columns: COLUMNS, rows: ROWS, frames, luma, rateHz: RATE_HZ };
}

describe('what a light leads', () => {
  it('is the part that comes in time, though another is larger and stronger', () => {
    const overview = film();
    const series = blockContrasts(overview);
    const [best] = leaders(overview, ledCandidates(overview, findPatches(overview, series), series));
    const { x0, y0 } = best!.led.box;
    expect(holds(LED, x0, y0)).toBe(true);
    const { blocks, followed, lagS, spreadS } = best!.following;
    expect([...blocks.keys()].every((b) => holds(SCREEN, b % COLUMNS, Math.floor(b / COLUMNS)))).toBe(true);
    expect(blocks.size).toBeGreaterThan(0.8 * SCREEN.width * SCREEN.height);
    expect(followed).toBe(PRESSES.length);
    expect(Math.abs(lagS - 8 / RATE_HZ)).toBeLessThan(1.5 / RATE_HZ);
    expect(spreadS).toBeLessThan(1.5 / RATE_HZ);
  });
});
