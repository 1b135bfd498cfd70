import { expect, test } from 'vitest';
import { betaQuantile, binomialCdf, binomialPmf, clopperPearson } from '../../src/numeric/binomial.js';
import { chiSquareCdf, chiSquareQuantile } from '../../src/numeric/chiSquare.js';
import { incompleteBeta } from '../../src/numeric/incompleteBeta.js';
import { studentTCdf, studentTQuantile, studentTTwoSidedP } from '../../src/numeric/studentT.js';

// Values of scipy 1.17 (stats.t, stats.beta, stats.binom, stats.chi2).
test('Student t', () => {
  expect(studentTQuantile(0.975, 9)).toBeCloseTo(2.262157162798205, 10);
  expect(studentTQuantile(0.995, 16)).toBeCloseTo(2.920781622, 8);
  expect(studentTQuantile(0.95, 1)).toBeCloseTo(6.313751514675, 9);
  expect(Math.abs(studentTCdf(-40, 9) / 9.491499224669911e-12 - 1)).toBeLessThan(1e-11);
  expect(studentTCdf(-2, 18.9987)).toBeCloseTo(0.030001522473433, 13);
  expect(studentTQuantile(0.975, Number.POSITIVE_INFINITY)).toBeCloseTo(1.959963984540054, 12);
  expect(studentTTwoSidedP(0, 5)).toBe(1);
});

test('beta and binomial', () => {
  expect(betaQuantile(0.025, 3, 20)).toBeCloseTo(0.02905585112874668, 11);
  expect(incompleteBeta(0.3, 3, 20)).toBeCloseTo(0.9793338030289185, 11);
  expect(incompleteBeta(1e-5, 3, 200) / 1.3513816494249247e-9).toBeCloseTo(1, 9);
  expect(binomialCdf(5, 20, 0.5)).toBeCloseTo(0.020694732666015625, 12);
  expect(binomialCdf(40, 100, 0.5)).toBeCloseTo(0.028443966820490444, 11);
  expect(Array.from({ length: 8 }, (_, k) => binomialPmf(k, 7, 0.3)).reduce((a, b) => a + b)).toBeCloseTo(
    1,
    12,
  );
  expect(clopperPearson(3, 20)[0]).toBeCloseTo(0.0320709371855, 10);
  expect(clopperPearson(0, 20)).toEqual([0, expect.closeTo(0.16843347, 7)]);
  expect(clopperPearson(0, 0)).toEqual([0, 1]);
});

test('chi-square', () => {
  expect(chiSquareQuantile(0.975, 29)).toBeCloseTo(45.72228580417452, 8);
  expect(chiSquareCdf(49.3384, 29)).toBeCloseTo(0.9893680088047982, 10);
  expect(chiSquareCdf(-1, 3)).toBe(0);
});
