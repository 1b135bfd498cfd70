import { expect, test } from 'vitest';
import { mean, sampleSd } from '../../src/stats/describe.js';
import { equivalencePower } from '../../src/stats/equivalencePower.js';
import { excessVarianceFromSd } from '../../src/stats/excessVariance.js';
import { studentDensity } from '../../src/stats/gridDensity.js';
import { holm } from '../../src/stats/multipleComparisons.js';
import { differenceFound } from '../../src/stats/randomEffects.js';

/** What a comparison says of a difference with Student's distribution; lattice of a 400th of the standard error. */
const ofStudent = (difference: number, standardError: number, freedom: number, margin: number) =>
  differenceFound(studentDensity(difference, standardError, freedom, standardError / 400), margin);

test('paired t: Student 1908 sleep data, R datasets::sleep (R t.test, paired)', () => {
  const first = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0, 2];
  const second = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];
  const d = first.map((v, i) => v - second[i]!);
  const found = ofStudent(mean(d), sampleSd(d) / Math.sqrt(10), 9, 1);
  expect(found.difference).toBeCloseTo(-1.58, 4);
  expect(found.p).toBeCloseTo(0.0028328902, 5);
  // From memory, the interval of the same print-out.
  expect(found.interval[0]).toBeCloseTo(-2.4598858, 4);
  expect(found.interval[1]).toBeCloseTo(-0.7001142, 4);
});

test('two one-sided tests: Lakens 2017 (doi 10.1177/1948550617697177), from summaries', () => {
  const [v1, v2] = [0.95 ** 2 / 95, 0.83 ** 2 / 89];
  const freedom = (v1 + v2) ** 2 / (v1 ** 2 / 94 + v2 ** 2 / 88);
  expect(freedom).toBeCloseTo(181.1344, 4);
  const found = ofStudent(5.25 - 5.22, Math.sqrt(v1 + v2), freedom, 0.384);
  expect(found.interval[0]).toBeCloseTo(-0.2290799, 5);
  // The larger of 0.0009458745 and 0.003838994 decides.
  expect(found.pEquivalence).toBeCloseTo(0.003838994, 6);
  expect(found.interval90[0]).toBeCloseTo(-0.1870843, 5);
  expect(found.interval90[1]).toBeCloseTo(0.2470843, 5);
});

test('two one-sided tests: textbook pair of groups of the same test suite', () => {
  const found = ofStudent(-8.1153846, 53.6185468, 19.169, 110);
  expect(found.interval[0]).toBeCloseTo(-120.27336, 1);
  expect(found.interval[1]).toBeCloseTo(104.04259, 1);
  // The larger of 0.03628 and 0.02002 decides.
  expect(found.pEquivalence).toBeCloseTo(0.03628, 4);
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
