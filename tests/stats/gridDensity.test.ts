import { describe, expect, it } from 'vitest';
import { convolveWeights } from '../../src/numeric/convolve.js';
import { studentTQuantile } from '../../src/numeric/studentT.js';
import {
  blurDensity,
  densityMoments,
  densityOfPoints,
  densityQuantiles,
  mixDensities,
  multiplyDensities,
  normalised,
  probabilityBelow,
  studentDensity,
  subtractDensities,
  totalWeight,
} from '../../src/stats/gridDensity.js';
import { differenceFound, differenceOfCentres, randomEffects } from '../../src/stats/randomEffects.js';

const normal = (mean: number, sd: number, step = 0.02) =>
  studentDensity(mean, sd, Number.POSITIVE_INFINITY, step);

describe('distributions on a lattice', () => {
  it('a Student density has the quantiles of Student', () => {
    const d = studentDensity(3, 0.5, 4, 0.01);
    const [low, middle, high] = densityQuantiles(d, [0.025, 0.5, 0.975]);
    expect(low).toBeCloseTo(3 + 0.5 * studentTQuantile(0.025, 4), 2);
    expect(middle).toBeCloseTo(3, 6);
    expect(high).toBeCloseTo(3 + 0.5 * studentTQuantile(0.975, 4), 2);
  });
  it('difference: means subtract, variances add', () => {
    const { mean, sd } = densityMoments(subtractDensities(normal(5, 0.3), normal(2, 0.4)));
    expect(mean).toBeCloseTo(3, 6);
    expect(sd).toBeCloseTo(0.5, 5);
  });
  it.each([0.001, 0.01, 0.05, 2])('blur by %f adds its variance', (sd) => {
    const d = blurDensity(normal(0, 0.3), sd);
    expect(densityMoments(d).sd).toBeCloseTo(Math.hypot(0.3, sd), 4);
    expect(totalWeight(d)).toBeCloseTo(1, 9);
  });
  it('product of two normal likelihoods: precisions add', () => {
    const { mean, sd } = densityMoments(normalised(multiplyDensities([normal(0, 0.3), normal(1, 0.6)])));
    expect(mean).toBeCloseTo((0 / 0.09 + 1 / 0.36) / (1 / 0.09 + 1 / 0.36), 4);
    expect(sd).toBeCloseTo(1 / Math.sqrt(1 / 0.09 + 1 / 0.36), 4);
  });
  it('what never meets has no product', () => {
    expect(totalWeight(multiplyDensities([normal(0, 0.1), normal(50, 0.1)]))).toBe(0);
  });
  it('a mixture has the mean of its parts and their spread', () => {
    const mix = mixDensities([
      { density: normal(0, 0.3), share: 0.25 },
      { density: normal(4, 0.3), share: 0.75 },
    ]);
    expect(densityMoments(mix).mean).toBeCloseTo(3, 5);
    expect(probabilityBelow(mix, 2)).toBeCloseTo(0.25, 5);
  });
  it('weighted points keep mean and sd (1 % wider at most 2 %)', () => {
    const values = Array.from({ length: 49 }, (_, i) => -3 + i / 8);
    const weights = values.map((v) => Math.exp(-0.5 * v * v));
    const { mean, sd } = densityMoments(densityOfPoints({ values: values.map((v) => v + 7), weights }, 0.1));
    expect(mean).toBeCloseTo(7, 6);
    expect(sd).toBeGreaterThan(1);
    expect(sd).toBeLessThan(1.02);
  });
  it('long convolutions by transform equal short ones term by term', () => {
    const a = Float64Array.from({ length: 900 }, (_, i) => Math.exp(-0.5 * ((i - 450) / 80) ** 2));
    const b = Float64Array.from({ length: 700 }, (_, i) => Math.exp(-Math.abs(i - 300) / 60));
    const long = convolveWeights(a, b);
    for (const k of [0, 400, 751, 1200, 1598]) {
      let sum = 0;
      for (let i = 0; i < a.length; i += 1) if (k - i >= 0 && k - i < b.length) sum += a[i]! * b[k - i]!;
      expect(Math.abs(long[k]! - sum)).toBeLessThan(1e-10);
    }
  });
});

describe('random effects', () => {
  it('one clip a group: nothing is known of the spread, and nothing is added', () => {
    const found = randomEffects([[normal(5, 0.3)], [normal(4, 0.4)]], 0.3);
    expect(found.spread).toBeNull();
    const difference = differenceFound(differenceOfCentres(found, 0, 1), 1);
    expect(difference.difference).toBeCloseTo(1, 3);
    expect(difference.interval[1] - difference.interval[0]).toBeCloseTo(2 * 1.96 * 0.5, 2);
  });
  it('clips that agree sharpen each other; clips that do not, widen', () => {
    const width = (gap: number): number => {
      const found = randomEffects([[-gap, 0, gap].map((m) => normal(m, 0.2)), [normal(0, 0.2)]], 0.3);
      const { interval } = differenceFound(differenceOfCentres(found, 0, 1), 1);
      return interval[1] - interval[0];
    };
    expect(width(0)).toBeLessThan(width(0.5));
    expect(width(0.5)).toBeLessThan(width(2));
  });
  it('the spread of one group widens the others, too', () => {
    const alone = randomEffects([[normal(0, 0.2)], [normal(0, 0.2)]], 0.3);
    const taught = randomEffects(
      [[normal(0, 0.2)], [normal(0, 0.2)], [normal(-3, 0.2), normal(0, 0.2), normal(3, 0.2)]],
      0.3,
    );
    const width = (f: typeof alone): number => {
      const { interval } = differenceFound(differenceOfCentres(f, 0, 1), 1);
      return interval[1] - interval[0];
    };
    expect(width(taught)).toBeGreaterThan(4 * width(alone));
  });
  it('levels of a normal difference are those of the normal tests', () => {
    const found = differenceFound(normal(0.4, 0.2), 1);
    expect(found.p).toBeCloseTo(0.0455, 3); // 2 Phi(-2)
    expect(found.pEquivalence).toBeCloseTo(0.00135, 4); // Phi(-3)
  });
  it('a group without clips is refused', () => {
    expect(() => randomEffects([[]], 0.3)).toThrow('groups');
  });
});
