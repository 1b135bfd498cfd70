import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { hodgesLehmann, hodgesLehmannPaired } from '../../src/stats/hodgesLehmann.js';
import { lowerTail, signedRankDistribution } from '../../src/stats/ranks.js';
import { rankTest } from '../../src/stats/rankTest.js';

test('Hollander & Wolfe 1973 p. 69 (R ?wilcox.test): exact', () => {
  const x = [0.8, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46];
  const y = [1.15, 0.88, 0.9, 0.74, 1.21];
  const found = rankTest(x, y);
  expect(found).toMatchObject({ u: 35, method: 'exact' });
  expect(found.p).toBeCloseTo(0.2544122544, 9);
  const shift = hodgesLehmann(x, y);
  expect(shift.shift).toBeCloseTo(0.305, 12);
  expect(shift.interval[0]).toBeCloseTo(-0.15, 12);
  expect(shift.interval[1]).toBeCloseTo(0.76, 12);
  expect(shift.confidence).toBeGreaterThanOrEqual(0.95);
});

test('Hollander & Wolfe 1973 p. 29, paired (R ?wilcox.test): exact', () => {
  const x = [1.83, 0.5, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.3];
  const y = [0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29];
  const shift = hodgesLehmannPaired(x, y);
  expect(shift.method).toBe('exact');
  expect(shift.shift).toBeCloseTo(0.46, 12);
  expect(shift.interval[0]).toBeCloseTo(0.01, 12);
  expect(shift.interval[1]).toBeCloseTo(0.786, 12);
  // V = 40 of 45: P(V >= 40) = P(V <= 5) = 0.01953125.
  expect(lowerTail(signedRankDistribution(9), 6)).toBeCloseTo(0.01953125, 12);
});

test('Michelson run 1 against run 4 (R wilcox.test, ties, continuity correction)', () => {
  const speeds: number[] = JSON.parse(
    readFileSync(new URL('./data/nist-strd-univariate.json', import.meta.url), 'utf8'),
  ).Michelso.values.map((v: number) => Math.round((v - 299) * 1000));
  const found = rankTest(speeds.slice(0, 20), speeds.slice(60, 80));
  expect(found).toMatchObject({ u: 314, method: 'normal' });
  expect(found.p).toBeCloseTo(0.002107, 6);
  const shift = hodgesLehmann(speeds.slice(0, 20), speeds.slice(60, 80));
  expect(shift.shift).toBeCloseTo(100, 9);
  expect(shift.interval[0]).toBeCloseTo(50, 6);
  expect(shift.interval[1]).toBeCloseTo(150, 6);
});

test('Efron & Tibshirani mouse data: U, Hodges-Lehmann (R wilcox.test)', () => {
  const treated = [94, 197, 16, 38, 99, 141, 23];
  const control = [52, 104, 146, 10, 51, 30, 40, 27, 46];
  const found = rankTest(treated, control);
  expect(found.u).toBe(36);
  expect(found.p).toBeCloseTo(0.6805944, 7);
  const shift = hodgesLehmann(treated, control);
  expect(shift.shift).toBe(28);
  expect(shift.interval).toEqual([-28, 93]);
});
