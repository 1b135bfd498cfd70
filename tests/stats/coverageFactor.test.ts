import { describe, expect, it } from 'vitest';
import { normalCdf } from '../../src/numeric/normal.js';
import { coverageFactor95, type ShapedPart } from '../../src/stats/coverageFactor.js';

const normal = (sd: number): ShapedPart => ({ standardUncertainty: sd, excessKurtosis: 0 });
const uniform = (sd: number): ShapedPart => ({ standardUncertainty: sd, excessKurtosis: -1.2 });

describe('coverage factor of a 95 % interval', () => {
  // Check-values 2.1, there to three decimals; exact: uniform 0.95 sqrt 3, triangular sqrt 6 (1 - sqrt 0.05).
  it.each([
    ['normal', [normal(0.3)], 1.959964],
    ['triangular: two equal uniform parts', [uniform(2), uniform(2)], Math.sqrt(6) * (1 - Math.sqrt(0.05))],
    ['uniform', [uniform(7)], 0.95 * Math.sqrt(3)],
    ['nothing', [], 1.96],
  ])('%s', (_, parts, factor) => {
    expect(Math.abs(coverageFactor95(parts) - factor)).toBeLessThan(1e-3);
  });

  // JCGM 101:2008, 9.2.3 and 9.2.4: four rectangular inputs; exact half widths 3.8794 and 17.0158 (check-values 2.4 f).
  it.each([
    ['of sd 1', [1, 1, 1, 1], 3.8794, 0.01],
    ['one of them ten times as wide', [1, 1, 1, 10], 17.0158, 0.002],
  ])('the sum of four rectangular parts %s, against JCGM 101', (_, sds, halfWidth, tolerance) => {
    const u = Math.hypot(...sds);
    expect(Math.abs((coverageFactor95(sds.map(uniform)) * u) / halfWidth - 1)).toBeLessThan(tolerance);
  });

  it('holds 95 % of a uniform and a normal part together, in any mixture', () => {
    for (let share = 0; share <= 1.0001; share += 0.05) {
      const half = Math.sqrt(3 * share);
      const sd = Math.sqrt(Math.max(1e-4, 1 - share));
      const k = coverageFactor95([uniform(Math.sqrt(share)), normal(sd)]);
      let held = 0;
      for (let i = 0; i < 2000; i++) {
        const u = half * ((i + 0.5) / 1000 - 1);
        held += (normalCdf((k - u) / sd) - normalCdf((-k - u) / sd)) / 2000;
      }
      expect(Math.abs(held - 0.95), `share ${share.toFixed(2)}`).toBeLessThan(1e-3);
    }
  });

  it('takes a part between the two for both, and widens for longer tails, within bounds', () => {
    const of = (excessKurtosis: number) => coverageFactor95([{ standardUncertainty: 1, excessKurtosis }]);
    const factors = [-2, -1.2, -0.9, -0.6, -0.3, 0, 1, 3].map(of);
    for (const [i, factor] of factors.entries()) {
      expect(factor).toBeGreaterThanOrEqual(factors[i - 1] ?? 1.6);
    }
    expect(of(50)).toBe(of(3));
  });
});
