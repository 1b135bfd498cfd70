import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  blurEdge,
  type EdgeShape,
  levelTime,
  responseAt,
  settleTime,
  weightedLevelTime,
} from '../../src/onset/edgeShape.js';

/**
 * The table is linear between knots 1/96 of a period apart and ends 1e-3 below the plateau; the curve bends by at most
 * 1/(exposure * tau), so that interpolation errs by less than (1/96)^2 / (8 exposure tau). Less than 0.25 % of the step.
 */
const tableTolerance = (exposure: number, tauT: number): number =>
  1.05e-3 + (tauT > 0 ? 1 / (96 * 96 * 8 * exposure * tauT) : 0);
/** Midpoint rule with `SLICES` slices on a curve with corners. */
const INTEGRATION_TOLERANCE = 2e-3;
const SLICES = 500;
/** Bisection to 60 halvings: what is left is rounding. */
const ROUNDING = 1e-9;

function mean(of: (t: number) => number, from: number, to: number): number {
  let sum = 0;
  for (let i = 0; i < SLICES; i++) sum += of(from + ((i + 0.5) * (to - from)) / SLICES);
  return sum / SLICES;
}

/** The display's line as its docstring defines it, written out a second time. */
function line(t: number, { tauT, overshoot = 0 }: EdgeShape): number {
  if (t <= 0) return 0;
  if (tauT === 0) return 1;
  return 1 - (1 + overshoot) * Math.exp(-t / tauT) + overshoot * Math.exp(-t / (2 * tauT));
}

const shapes: readonly (readonly [string, EdgeShape])[] = [
  ['instant', { tauT: 0, sweepT: 0 }],
  ['exponential', { tauT: 0.4, sweepT: 0 }],
  ['slow exponential', { tauT: 2, sweepT: 0 }],
  ['drawn line by line', { tauT: 0, sweepT: 1.3 }],
  ['drawn upwards', { tauT: 0.3, sweepT: -0.8 }],
  ['overshooting', { tauT: 0.5, overshoot: 0.3, sweepT: 0.2 }],
  ['with a slow tail', { tauT: 0.5, overshoot: -0.5, sweepT: 0 }],
];
const exposures = [1, 0.5, 0.1];

describe('response of a region without a camera', () => {
  it.each(shapes)('%s: is the mean of its lines', (_, shape) => {
    const sweep = Math.abs(shape.sweepT);
    for (const t of [-0.5, 0, 0.01, 0.2, 0.7, 1.1, 2.5, 6]) {
      const expected = mean((u) => line(t - u * sweep, shape), 0, 1);
      expect(Math.abs(responseAt(t, shape) - expected)).toBeLessThan(INTEGRATION_TOLERANCE);
    }
  });

  it('overshoots where it should, and ends at 1', () => {
    const over = { tauT: 0.5, overshoot: 0.3, sweepT: 0 };
    // Peak of 1 - (1+a) x^2 + a x at x = a / (2 (1+a)): 1 + a^2 / (4 (1+a)).
    const peakT = -2 * 0.5 * Math.log(0.3 / 2.6);
    expect(responseAt(peakT, over)).toBeCloseTo(1 + 0.09 / 5.2, 12);
    expect(responseAt(40, over)).toBeCloseTo(1, 12);
    for (let t = 0; t < 20; t += 0.01) expect(responseAt(t, { ...over, overshoot: -0.5 })).toBeLessThan(1);
  });

  it('has settled to 1e-3 at its settle time', () => {
    for (const [, shape] of shapes) {
      expect(Math.abs(responseAt(settleTime(shape) + ROUNDING, shape) - 1)).toBeLessThan(1e-3);
    }
  });
});

describe('level times', () => {
  // Check-values 1.5 (iv) prints 0.105, 0.693, 2.303 and 2.197; the last three are ln 2, ln 10 and ln 9.
  const PRINTED = 5e-4;
  it.each([0.05, 0.3, 1, 4])('of an exponential of time constant %d', (r) => {
    const shape = { tauT: r, sweepT: 0 };
    const t10 = levelTime(0.1, shape);
    const t90 = levelTime(0.9, shape);
    expect(Math.abs(t10 / r - 0.105)).toBeLessThan(PRINTED);
    expect(Math.abs(levelTime(0.5, shape) / r - Math.LN2)).toBeLessThan(PRINTED);
    expect(Math.abs(t90 / r - Math.LN10)).toBeLessThan(PRINTED);
    expect(Math.abs((t90 - t10) / r - 2.197)).toBeLessThan(PRINTED);
    expect(t90 - t10).toBeCloseTo(r * Math.log(9), 9);
  });

  it('of a change drawn line by line are shares of the sweep', () => {
    for (const level of [0.1, 0.5, 0.9]) {
      expect(levelTime(level, { tauT: 0, sweepT: 1.7 })).toBeCloseTo(1.7 * level, 9);
      expect(levelTime(level, { tauT: 0, sweepT: 0 })).toBe(0);
    }
  });

  const anyShape = fc.record({
    tauT: fc.double({ min: 0.01, max: 5, noNaN: true }),
    overshoot: fc.double({ min: -0.6, max: 0.6, noNaN: true }),
    sweepT: fc.double({ min: -4, max: 4, noNaN: true }),
  });
  const anyLevel = fc.double({ min: 0.02, max: 0.98, noNaN: true });

  it('are where the response passes the level, for any shape', () => {
    fc.assert(
      fc.property(anyShape, anyLevel, (shape, level) => {
        const t = levelTime(level, shape);
        expect(Math.abs(responseAt(t, shape) - level)).toBeLessThan(1e-6);
        expect(responseAt(0.98 * t, shape)).toBeLessThan(level);
      }),
      { numRuns: 200, seed: 1501 },
    );
  });

  it('do not depend on whether the display draws downwards or upwards', () => {
    fc.assert(
      fc.property(anyShape, anyLevel, (shape, level) => {
        expect(levelTime(level, { ...shape, sweepT: -shape.sweepT })).toBe(levelTime(level, shape));
      }),
      { numRuns: 50, seed: 1502 },
    );
  });

  it('of evenly spread lines are those of the region', () => {
    fc.assert(
      fc.property(anyShape, anyLevel, fc.integer({ min: 1, max: 12 }), (shape, level, rows) => {
        const lines = Array.from({ length: rows }, (_, i) => ({
          from: i / rows,
          extent: 1 / rows,
          weight: 1 / rows,
        }));
        // A line's own sweep below 1e-3 periods counts as none.
        const tolerance = Math.abs(shape.sweepT) / rows >= 1e-3 ? 1e-6 : 1e-3;
        const weighted = weightedLevelTime(level, shape, lines);
        expect(Math.abs(weighted - levelTime(level, shape))).toBeLessThan(tolerance);
      }),
      { numRuns: 60, seed: 1503 },
    );
  });

  it('follow the lines that change: the first third earlier, the last third later, mirrored upwards', () => {
    const third = (from: number) => [{ from, extent: 1 / 3, weight: 1 }];
    const down = { tauT: 0.2, sweepT: 1.5 };
    const up = { ...down, sweepT: -1.5 };
    const within = levelTime(0.1, { tauT: 0.2, sweepT: 0.5 });
    expect(weightedLevelTime(0.1, down, third(0))).toBeCloseTo(within, 6);
    expect(weightedLevelTime(0.1, down, third(2 / 3))).toBeCloseTo(1 + within, 6);
    expect(weightedLevelTime(0.1, up, third(2 / 3))).toBeCloseTo(within, 6);
    expect(weightedLevelTime(0.1, up, third(0))).toBeCloseTo(1 + within, 6);
  });
});

describe('an edge seen through a shutter', () => {
  const cases = shapes.flatMap(([name, shape]) => exposures.map((e) => [name, e, shape] as const));

  it.each(cases)('%s, exposure %d: is the mean of the response over the exposure', (_, exposure, shape) => {
    const edge = blurEdge(shape, exposure);
    let worst = 0;
    for (let x = -1.2; x < 4; x += 0.113) {
      const expected = mean((t) => responseAt(t, shape), x, x + exposure);
      worst = Math.max(worst, Math.abs(edge.at(x) - expected));
    }
    // An overshoot bends the curve more, by its own amplitude; a sweep bends an instant edge by 1/(exposure * sweep).
    const bend = shape.tauT > 0 ? shape.tauT / (1 + Math.abs(shape.overshoot ?? 0)) : Math.abs(shape.sweepT);
    expect(worst).toBeLessThan(tableTolerance(exposure, bend) + INTEGRATION_TOLERANCE);
  });

  it.each(exposures)('exposure %d: is the closed form of box times exponential', (exposure) => {
    for (const r of [0.1, 0.25, 1, 3]) {
      let worst = 0;
      const edge = blurEdge({ tauT: r, sweepT: 0 }, exposure);
      for (let x = -1.5; x < 9; x += 0.0517) {
        // Check-values 1.1 with T = 1, tau = 0.
        const u = Math.max(x, 0);
        const v = Math.max(x + exposure, 0);
        const closed = (v - u + r * (Math.exp(-v / r) - Math.exp(-u / r))) / exposure;
        worst = Math.max(worst, Math.abs(edge.at(x) - closed));
      }
      expect(worst).toBeLessThan(tableTolerance(exposure, r));
    }
  });

  it.each(exposures)('exposure %d: an instant step is the share of the exposure that is left', (exposure) => {
    const edge = blurEdge({ tauT: 0, sweepT: 0 }, exposure);
    for (let x = -1.2; x < 1; x += 0.0173) {
      const share = Math.min(1, Math.max(0, (x + exposure) / exposure));
      expect(Math.abs(edge.at(x) - share)).toBeLessThan(1e-6); // table kept in single precision
    }
  });

  it('rises from 0 to 1 without a step back, where the response does', () => {
    for (const [, shape] of shapes) {
      if ((shape.overshoot ?? 0) > 0) continue;
      for (const exposure of exposures) {
        const edge = blurEdge(shape, exposure);
        expect(edge.at(edge.startT - 1e-9)).toBe(0);
        expect(edge.at(edge.endT + 1)).toBe(1);
        let last = 0;
        let steepestFall = 0;
        for (let x = edge.startT; x < edge.endT + 0.5; x += 0.005) {
          steepestFall = Math.max(steepestFall, last - edge.at(x));
          last = edge.at(x);
        }
        expect(steepestFall).toBeLessThan(2e-7); // the table is kept in single precision
        expect(last).toBeGreaterThan(0.998);
      }
    }
  });
});
