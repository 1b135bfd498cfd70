import { expect, describe as group, test } from 'vitest';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { bootstrapInterval } from '../../src/stats/bootstrap.js';
import { combineUncertainty } from '../../src/stats/combineUncertainty.js';
import { describe, mean } from '../../src/stats/describe.js';
import { equivalencePower, pressesForEquivalence } from '../../src/stats/equivalencePower.js';
import { excessVariance } from '../../src/stats/excessVariance.js';
import { hodgesLehmann } from '../../src/stats/hodgesLehmann.js';
import { predictWidth, pressesForWidth } from '../../src/stats/planWidth.js';
import { quantile } from '../../src/stats/quantile.js';
import { lowerTail, mannWhitneyDistribution } from '../../src/stats/ranks.js';
import { rankTest } from '../../src/stats/rankTest.js';

group('plain description', () => {
  test('does not change its input and refuses what is not a number', () => {
    const x = Object.freeze([3, 1, 2]);
    expect(describe(x)).toEqual({ n: 3, minimum: 1, maximum: 3, mean: 2, median: 2, sd: 1 });
    expect(describe([5]).sd).toBeNull();
    expect(quantile(x, 0.5)).toBe(2);
    expect(() => describe([1, Number.NaN])).toThrow('expected values[1] to be a finite number, got NaN');
    expect(() => describe([])).toThrow('at least 1 values');
  });
});

group('rank tests against brute force', () => {
  test('null distribution of U counts every split', () => {
    const counts = new Float64Array(13);
    for (let mask = 0; mask < 128; mask += 1) {
      const members = Array.from({ length: 7 }, (_, i) => i).filter((i) => (mask >> i) & 1);
      if (members.length !== 3) continue;
      counts[members.reduce((sum, i) => sum + i, 0) - 3]! += 1 / 35;
    }
    const found = mannWhitneyDistribution(3, 4);
    for (let u = 0; u <= 12; u += 1) expect(found[u]).toBeCloseTo(counts[u]!, 13);
    expect(lowerTail(mannWhitneyDistribution(40, 45), 1801)).toBeCloseTo(1, 9);
  });

  test('swapping the groups mirrors the answer', () => {
    const x = [1, 4, 6, 9];
    const y = [2, 3, 8, 12, 15];
    expect(rankTest(x, y).p).toBeCloseTo(rankTest(y, x).p, 13);
    expect(rankTest(x, y).relativeEffect).toBeCloseTo(1 - rankTest(y, x).relativeEffect, 13);
    expect(hodgesLehmann(x, y).shift).toBeCloseTo(-hodgesLehmann(y, x).shift, 13);
    expect(hodgesLehmann(x, y).interval[0]).toBeCloseTo(-hodgesLehmann(y, x).interval[1], 13);
  });
});

group('resampling', () => {
  test('same seed, same answer', () => {
    const r = seededRandom(1);
    const x = Array.from({ length: 30 }, () => r.normal());
    const a = bootstrapInterval(x, mean, { seed: 3 });
    expect(a).toEqual(bootstrapInterval(x, mean, { seed: 3 }));
    expect(a.interval[0]).toBeLessThan(a.estimate);
    expect(a.interval[1]).toBeGreaterThan(a.estimate);
  });
});

group('planned equivalence and spread', () => {
  test('planning inverts the power', () => {
    const setting = { sd: 1, margin: 1, paired: true };
    const n = pressesForEquivalence(0.8, setting)!;
    expect(equivalencePower(n, setting)).toBeGreaterThanOrEqual(0.8);
    expect(equivalencePower(n - 1, setting)).toBeLessThan(0.8);
    expect(pressesForEquivalence(0.9, { sd: 1, margin: 1, paired: true, difference: 1.2 })).toBeNull();
  });

  test('spread below the measurement is no excess', () => {
    expect(excessVariance([1, 1.1, 0.9, 1], 0.5)).toMatchObject({ excessSd: 0 });
  });

  test('fully correlated parts add, fully opposed ones cancel', () => {
    const parts = [{ standardUncertainty: 3 }, { standardUncertainty: 4 }];
    expect(combineUncertainty(parts).standardUncertainty).toBe(5);
    expect(combineUncertainty(parts, { correlations: [{ i: 0, j: 1, r: 1 }] }).standardUncertainty).toBe(7);
    expect(combineUncertainty(parts, { correlations: [{ i: 0, j: 1, r: -1 }] }).standardUncertainty).toBe(1);
    expect(combineUncertainty(parts).coverageFactor).toBeCloseTo(1.95996, 5);
  });
});

group('planning', () => {
  const setting = { periodMs: 1000 / 60, uncertaintyMs: 0.5 };
  test('more presses, narrower interval; the search inverts the prediction', () => {
    const ten = predictWidth(10, setting);
    const forty = predictWidth(40, setting);
    expect(forty.widthMs).toBeLessThan(0.6 * ten.widthMs);
    expect(forty.widthMs).toBeLessThan(forty.meanWidthMs);
    const presses = pressesForWidth(forty.widthMs, setting)!;
    expect(Math.abs(presses - 40)).toBeLessThanOrEqual(1);
  });

  test('what all presses share cannot be pressed away', () => {
    expect(pressesForWidth(1, { ...setting, commonUncertaintyMs: 0.5 })).toBeNull();
  });
});
