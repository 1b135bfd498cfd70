import { expect, test } from 'vitest';
import { equivalence, equivalenceOfMeans } from '../../src/stats/equivalence.js';
import { equivalencePower } from '../../src/stats/equivalencePower.js';
import { excessVarianceFromSd } from '../../src/stats/excessVariance.js';
import { holm } from '../../src/stats/multipleComparisons.js';
import { pairedDifference, welch, welchFromMoments } from '../../src/stats/welch.js';

// Student 1908, R datasets::sleep.
const SLEEP_1 = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0, 2];
const SLEEP_2 = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];

test('Welch: Student sleep data (R t.test)', () => {
  const found = welch(SLEEP_1, SLEEP_2);
  expect(found.t).toBeCloseTo(-1.860813467, 9);
  expect(found.degreesOfFreedom).toBeCloseTo(17.77647352, 8);
  expect(found.p).toBeCloseTo(0.0793941402, 9);
  expect(found.interval[0]).toBeCloseTo(-3.365483231, 8);
  expect(found.interval[1]).toBeCloseTo(0.205483231, 8);
});

test('paired t: Student sleep data (R t.test, paired)', () => {
  const found = pairedDifference(SLEEP_1, SLEEP_2);
  expect(found.t).toBeCloseTo(-4.062127683, 9);
  expect(found.degreesOfFreedom).toBe(9);
  expect(found.p).toBeCloseTo(0.0028328902, 10);
});

test('Welch: NIST e-Handbook 1.3.5.3, AUTO83B (published values from memory)', () => {
  const found = welchFromMoments(
    { n: 249, mean: 20.14458, variance: 6.4147 ** 2 },
    { n: 79, mean: 30.48101, variance: 6.10771 ** 2 },
  );
  expect(found.t).toBeCloseTo(-12.94627, 4);
  expect(found.degreesOfFreedom).toBeCloseTo(136.875, 3);
});

test('Welch: NIST e-Handbook 7.3.1', () => {
  const found = welch([32, 37, 35, 28, 41, 44, 35, 31, 34, 38, 42], [36, 31, 30, 31, 34, 36, 29, 32, 31]);
  expect(found.t).toBeCloseTo(2.26937, 5);
  expect(found.degreesOfFreedom).toBeCloseTo(15.5325, 4);
  expect(found.p).toBeCloseTo(0.03788, 5);
});

test('TOST: Lakens 2017 (doi 10.1177/1948550617697177), Welch from summaries', () => {
  const found = welchFromMoments(
    { n: 95, mean: 5.25, variance: 0.95 ** 2 },
    { n: 89, mean: 5.22, variance: 0.83 ** 2 },
  );
  expect(found.degreesOfFreedom).toBeCloseTo(181.1344, 4);
  expect(found.interval[0]).toBeCloseTo(-0.2290799, 7);
  const tost = equivalence(found, 0.384);
  expect(tost.pAboveLower).toBeCloseTo(0.0009458745, 10);
  expect(tost.pBelowUpper).toBeCloseTo(0.003838994, 9);
  expect(tost.interval[0]).toBeCloseTo(-0.1870843, 7);
  expect(tost.interval[1]).toBeCloseTo(0.2470843, 7);
  expect(tost.equivalent).toBe(true);
});

test('TOST: textbook pair of groups of the same test suite, Welch form', () => {
  const a = [452, 874, 554, 447, 356, 754, 558, 574, 664, 682, 547, 435, 245];
  const b = [546, 547, 774, 465, 459, 665, 467, 365, 589, 534, 456, 651, 654, 665, 546, 537];
  const difference = welch(a, b);
  expect(difference.difference).toBeCloseTo(-8.1153846, 7);
  expect(difference.standardError).toBeCloseTo(53.6185468, 6);
  expect(difference.degreesOfFreedom).toBeCloseTo(19.169, 3);
  expect(difference.interval[0]).toBeCloseTo(-120.27336, 5);
  expect(difference.interval[1]).toBeCloseTo(104.04259, 5);
  const tost = equivalenceOfMeans(a, b, 110);
  expect(tost.pAboveLower).toBeCloseTo(0.03628, 5);
  expect(tost.pBelowUpper).toBeCloseTo(0.02002, 5);
});

// Power of the two one-sided tests at a margin of 1 ms: simulated and integrated in scipy for the design of this tool.
test.each([
  [200, 4.84, false, 0.33],
  [300, 4.84, false, 0.62],
  [400, 4.84, false, 0.8],
  [500, 4.84, false, 0.89],
  [5, 0.5, true, 0.95],
  [8, 1, true, 0.63],
  [12, 1, true, 0.89],
  [15, 1, true, 0.96],
  [40, 2, true, 0.86],
])('power of equivalence: n = %i, sd %f', (n, sd, paired, power) => {
  expect(Math.abs(equivalencePower(n, { sd, margin: 1, paired }) - power)).toBeLessThan(0.012);
});

test('excess variance of paired differences: n = 30, s = 0.90, u = 0.69 (chi-square, scipy)', () => {
  const found = excessVarianceFromSd(30, 0.9, 0.69);
  expect(found.chiSquare).toBeCloseTo(49.3384, 4);
  expect(found.p).toBeCloseTo(0.010632, 6);
  expect(found.excessSdInterval[0] ** 2).toBeCloseTo(0.03765, 5);
  expect(found.excessSdInterval[1] ** 2).toBeCloseTo(0.98772, 5);
});

test('Holm: R p.adjust(c(.01,.02,.03,.04), "holm") and an unsorted case', () => {
  expect(holm([0.01, 0.02, 0.03, 0.04])).toEqual([0.04, 0.06, 0.06, 0.06]);
  const adjusted = holm([0.5, 0.001, 0.04]);
  [0.5, 0.003, 0.08].forEach((p, i) => {
    expect(adjusted[i]).toBeCloseTo(p, 12);
  });
});
