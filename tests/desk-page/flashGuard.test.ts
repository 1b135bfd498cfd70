/** Playing never flashes more than three times in a second unasked (WCAG 2.2, success criterion 2.3.1). */
import { describe, expect, it } from 'vitest';
import {
  FlashGuard,
  flashesAtSpeed,
  GUARD_COLUMNS,
  GUARD_ROWS,
  HARMLESS_PICTURES_PER_S,
  harmlessSpeed,
  picturesPerS,
  SPEEDS,
} from '../../src/desk/page/logic/flashGuard.js';
import { countFlashes } from '../../src/report/annotated/flashes.js';

const cells = GUARD_COLUMNS * GUARD_ROWS;
const grey = (code: number): Uint8Array => new Uint8Array(3 * cells).fill(code);
/** Black but for one cell. */
const spot = (code: number): Uint8Array => grey(0).fill(code, 3 * 40, 3 * 41);

/** Shows pictures at a rate; how many were admitted before the first refusal. */
function admitted(pictures: (k: number) => Uint8Array, rateHz: number, count: number): number {
  const guard = new FlashGuard();
  for (let k = 0; k < count; k++) if (!guard.admits(pictures(k), k / rateHz)) return k;
  return count;
}

describe('flash guard', () => {
  it('admits three flashes in a second and refuses the swing beyond', () => {
    // A change of the picture every 0.1 s is five flashes a second: the seventh swing is one too many.
    const stop = admitted((k) => grey(k % 2 === 0 ? 0 : 255), 10, 100);
    expect(stop).toBe(7);
  });
  it('one small cell is enough', () => {
    expect(admitted((k) => spot(k % 2 === 0 ? 0 : 255), 10, 100)).toBe(7);
  });
  it('admits steady pictures, slow flashes and small swings for ever', () => {
    expect(admitted(() => grey(128), 30, 300)).toBe(300);
    expect(admitted((k) => grey(k % 2 === 0 ? 0 : 255), 5, 300)).toBe(300);
    expect(admitted((k) => grey(k % 2 === 0 ? 100 : 104), 30, 300)).toBe(300);
  });
  it('what is admitted holds the limit when it is counted afterwards as a whole', () => {
    const guard = new FlashGuard();
    const [grids, atS]: [Uint8Array[], number[]] = [[], []];
    for (let k = 0; k < 300; k++) {
      const picture = grey(Math.round(127 + 120 * Math.sin(k * 1.7)));
      if (!guard.admits(picture, k / 30)) continue;
      grids.push(picture);
      atS.push(k / 30);
    }
    expect(grids.length).toBeGreaterThan(20);
    expect(grids.length).toBeLessThan(300);
    expect(countFlashes(grids, atS).flashesPerS).toBeLessThanOrEqual(3);
  });
  it('red flashes count', () => {
    const red = (k: number): Uint8Array =>
      Uint8Array.from({ length: 3 * cells }, (_, i) => (i % 3 === 0 && k % 2 === 1 ? 120 : 0));
    expect(admitted(red, 10, 100)).toBeLessThan(20);
  });
  it('the speed to begin with can harm nobody, whatever the clip shows', () => {
    for (const rateHz of [60, 120, 240, 480]) {
      const shown = picturesPerS(rateHz, harmlessSpeed(rateHz)).rateHz;
      expect(shown).toBeLessThanOrEqual(Math.max(HARMLESS_PICTURES_PER_S, rateHz * SPEEDS[0]!));
    }
    expect(admitted((k) => grey(k % 2 === 0 ? 0 : 255), HARMLESS_PICTURES_PER_S, 500)).toBe(500);
  });
  it('a trace foretells the flashes of a speed', () => {
    // A screen that goes on and off every quarter second of real time: two flashes a second.
    const timesS = Float64Array.from({ length: 2400 }, (_, k) => k / 240);
    const values = Float64Array.from(timesS, (t) => (Math.floor(t * 4) % 2 === 0 ? 0 : 1));
    expect(flashesAtSpeed(values, timesS, 1)).toBe(2.5);
    expect(flashesAtSpeed(values, timesS, 0.25)).toBe(1);
    expect(flashesAtSpeed(values, timesS, 2)).toBeGreaterThan(3);
  });
});
