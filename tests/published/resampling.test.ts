import { describe, expect, test } from 'vitest';
import { bcaFromReplicates, bootstrapInterval, jackknifeAcceleration } from '../../src/stats/bootstrap.js';
import { mean } from '../../src/stats/describe.js';
import { shiftByExchange } from '../../src/stats/exchange.js';
import { probabilityBelow, studentDensity } from '../../src/stats/gridDensity.js';
import { meansExchanged } from '../../src/stats/meanShift.js';

// Efron & Tibshirani, An Introduction to the Bootstrap, 1993.
const MOUSE_TREATED = [94, 197, 16, 38, 99, 141, 23];
const MOUSE_CONTROL = [52, 104, 146, 10, 51, 30, 40, 27, 46];
const SPATIAL_A = [
  48, 36, 20, 29, 42, 42, 20, 42, 22, 41, 45, 14, 6, 0, 33, 28, 34, 4, 32, 24, 47, 41, 24, 26, 30, 41,
];

const variance = (x: Float64Array): number => {
  const m = mean(x);
  return x.reduce((sum, v) => sum + (v - m) ** 2, 0) / x.length;
};

describe('BCa bootstrap', () => {
  test('mouse data, all 7^7 resamples of the mean', () => {
    const n = MOUSE_TREATED.length;
    const replicates = new Float64Array(n ** n);
    for (let code = 0; code < replicates.length; code += 1) {
      let rest = code;
      let sum = 0;
      for (let i = 0; i < n; i += 1) {
        sum += MOUSE_TREATED[rest % n]!;
        rest = Math.floor(rest / n);
      }
      replicates[code] = sum / n;
    }
    replicates.sort();
    const data = Float64Array.from(MOUSE_TREATED);
    const a = jackknifeAcceleration(data, mean);
    expect(a).toBeCloseTo(0.0291205813, 9);
    const found = bcaFromReplicates(replicates, mean(data), a);
    expect(found.standardError).toBeCloseTo(23.363523, 4); // published ideal 23.36 (from memory)
    expect(found.bias).toBeCloseTo(0.0306626001, 8); // ties count half
    expect(found.interval[0]).toBeCloseTo(46.285714, 5);
    expect(found.interval[1]).toBeCloseTo(138.285714, 5);
    const ninety = bcaFromReplicates(replicates, mean(data), a, 0.9).interval;
    expect(ninety[0]).toBeCloseTo(52.285714, 5);
    expect(ninety[1]).toBeCloseTo(130.142857, 5);
  });

  test('spatial test data, plug-in variance: published 90 % (115.8, 259.6) with 2000 resamples (from memory)', () => {
    const found = bootstrapInterval(SPATIAL_A, variance, { seed: 5, resamples: 20_000, confidence: 0.9 });
    expect(found.estimate).toBeCloseTo(171.534, 3);
    expect(found.acceleration).toBeCloseTo(0.06124, 5);
    // With 4 million resamples (numpy): 115.78, 261.3, standard error 41.81; the tolerance is four Monte Carlo sds.
    expect(Math.abs(found.interval[0] - 115.78)).toBeLessThan(2.5);
    expect(Math.abs(found.interval[1] - 261.3)).toBeLessThan(5);
    expect(Math.abs(found.standardError - 41.81)).toBeLessThan(1);
  });

  test('air-conditioning failures (R boot::aircondit): acceleration of the mean', () => {
    const air = Float64Array.from([3, 5, 7, 18, 43, 85, 91, 98, 100, 130, 230, 487]);
    expect(jackknifeAcceleration(air, mean)).toBeCloseTo(0.0937980739, 9);
  });
});

describe('exchange of members: published permutation tests', () => {
  /** Level below zero that the inverted test gives, from 999 splits; the sd of such a share is 0.015 at most. */
  const below = (x: readonly number[], y: readonly number[]): number => {
    const se = Math.sqrt(
      variance(Float64Array.from(x)) / x.length + variance(Float64Array.from(y)) / y.length,
    );
    const guess = studentDensity(mean(x) - mean(y), se, x.length + y.length - 2, se / 50);
    return probabilityBelow(shiftByExchange(guess, meansExchanged(x, y)), 0);
  };
  const TOLERANCE = 0.045;

  test('Box, Hunter & Hunter tomatoes: 154 of 462', () => {
    const a = [29.9, 11.4, 25.3, 16.5, 21.1];
    const b = [26.6, 23.7, 28.5, 14.2, 17.9, 24.3];
    expect(Math.abs(below(b, a) - 154 / 462)).toBeLessThan(TOLERANCE);
    expect(Math.abs(below(a, b) - (1 - 154 / 462))).toBeLessThan(TOLERANCE);
  });

  test('Efron & Tibshirani mouse data: 1613 of 11440', () => {
    expect(Math.abs(below(MOUSE_TREATED, MOUSE_CONTROL) - 1613 / 11440)).toBeLessThan(TOLERANCE);
  });
});
