import { describe, expect, test } from 'vitest';
import { fitLine, lineAt } from '../../src/numeric/leastSquares.js';
import { combineUncertainty, typeBUncertainty } from '../../src/stats/combineUncertainty.js';
import { mean, sampleSd, sampleVariance } from '../../src/stats/describe.js';
import { propagate } from '../../src/stats/monteCarlo.js';

describe('JCGM 100:2008', () => {
  test('4.4.3, table 1: 20 temperatures (readings from memory; mean and s as published)', () => {
    const t = [
      96.9, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42, 100.68, 100.95,
      101.11, 101.2, 101.57, 101.84, 102.36, 102.72,
    ];
    expect(mean(t)).toBeCloseTo(100.145, 9);
    expect(sampleSd(t)).toBeCloseTo(1.489, 3);
    expect(sampleSd(t) / Math.sqrt(20)).toBeCloseTo(0.333, 3);
  });

  test('4.4.5 and 4.3: type B shapes', () => {
    expect(typeBUncertainty(4)).toBeCloseTo(2.3094, 4);
    expect(typeBUncertainty(4, 'triangular')).toBeCloseTo(1.633, 3);
    expect(typeBUncertainty(0.5, 'arcsine')).toBeCloseTo(0.35, 2);
  });

  test('H.1 end gauge: u_c = 32 nm, nu_eff = 16.7, U99 = 93 nm', () => {
    const d = combineUncertainty([
      { standardUncertainty: 13 / Math.sqrt(5), degreesOfFreedom: 24 },
      { standardUncertainty: 10 / 2.57, degreesOfFreedom: 5 },
      { standardUncertainty: 20 / 3, degreesOfFreedom: 8 },
    ]);
    expect(d.standardUncertainty).toBeCloseTo(9.7, 1);
    expect(d.degreesOfFreedom).toBeCloseTo(25.6, 1);
    // 50.000623 mm at +-1e-6/degC: l theta u(da); and l aS u(dth).
    const length = 50.000623e6;
    const all = combineUncertainty(
      [
        { standardUncertainty: 25, degreesOfFreedom: 18 },
        { standardUncertainty: d.standardUncertainty, degreesOfFreedom: d.degreesOfFreedom },
        { standardUncertainty: length * 0.1 * typeBUncertainty(1e-6), degreesOfFreedom: 50 },
        { standardUncertainty: length * 11.5e-6 * typeBUncertainty(0.05), degreesOfFreedom: 2 },
      ],
      { confidence: 0.99, truncate: true },
    );
    expect(all.standardUncertainty).toBeCloseTo(31.66, 1);
    expect(all.degreesOfFreedom).toBeCloseTo(16.7, 1);
    expect(all.coverageFactor).toBeCloseTo(2.92, 2);
    expect(Math.abs(all.expandedUncertainty - 93)).toBeLessThan(0.6);
  });

  test('G.4.1 example: nu_eff 19.0, U95 = 2.2 %', () => {
    const found = combineUncertainty(
      [
        { standardUncertainty: 0.25, degreesOfFreedom: 9 },
        { standardUncertainty: 0.57, degreesOfFreedom: 4 },
        { standardUncertainty: 0.82, degreesOfFreedom: 14 },
      ],
      { truncate: true },
    );
    expect(found.standardUncertainty).toBeCloseTo(1.0295, 4);
    expect(found.degreesOfFreedom).toBeCloseTo(18.9987, 4);
    expect(found.coverageFactor).toBeCloseTo(2.093, 3);
    expect(found.expandedUncertainty).toBeCloseTo(2.155, 3);
  });

  test('H.2 resistance and reactance: correlated inputs, from the raw data', () => {
    const v = [5.007, 4.994, 5.005, 4.99, 4.999];
    const i = [19.663, 19.639, 19.64, 19.685, 19.678].map((ma) => ma / 1000);
    const phi = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433];
    const [V, I, P] = [mean(v), mean(i), mean(phi)];
    const u = (x: number[]): number => Math.sqrt(sampleVariance(x) / x.length);
    const r = (a: number[], b: number[]): number => {
      const [ma, mb] = [mean(a), mean(b)];
      return a.reduce((sum, x, k) => sum + (x - ma) * (b[k]! - mb), 0) / (4 * sampleSd(a) * sampleSd(b));
    };
    expect(r(v, i)).toBeCloseTo(-0.355, 3);
    expect(r(v, phi)).toBeCloseTo(0.858, 3);
    expect(r(i, phi)).toBeCloseTo(-0.645, 3);
    const correlations = [
      { i: 0, j: 1, r: r(v, i) },
      { i: 0, j: 2, r: r(v, phi) },
      { i: 1, j: 2, r: r(i, phi) },
    ];
    const uOf = (cv: number, ci: number, cp: number): number =>
      combineUncertainty(
        [
          { standardUncertainty: cv * u(v) },
          { standardUncertainty: ci * u(i) },
          { standardUncertainty: cp * u(phi) },
        ],
        { correlations },
      ).standardUncertainty;
    const [c, s] = [Math.cos(P), Math.sin(P)];
    expect((V * c) / I).toBeCloseTo(127.732, 3);
    expect(uOf(c / I, (-V * c) / I ** 2, (-V * s) / I)).toBeCloseTo(0.071, 3);
    expect((V * s) / I).toBeCloseTo(219.847, 3);
    expect(uOf(s / I, (-V * s) / I ** 2, (V * c) / I)).toBeCloseTo(0.2956, 3);
    expect(V / I).toBeCloseTo(254.26, 2);
    expect(uOf(1 / I, -V / I ** 2, 0)).toBeCloseTo(0.2363, 3);
  });

  test('H.3 thermometer calibration: straight line', () => {
    const t = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.01, 26.511];
    const b = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.16];
    const fit = fitLine(t, b, { origin: 20 });
    expect(fit.intercept).toBeCloseTo(-0.1712, 4);
    expect(fit.interceptUncertainty).toBeCloseTo(0.0029, 4);
    expect(fit.slope).toBeCloseTo(0.00218, 5);
    expect(fit.slopeUncertainty).toBeCloseTo(0.00067, 5);
    expect(fit.covariance / (fit.interceptUncertainty * fit.slopeUncertainty)).toBeCloseTo(-0.93, 3);
    expect(fit.residualSd).toBeCloseTo(0.0035, 4);
    const at30 = lineAt(fit, 30);
    expect(at30.value).toBeCloseTo(-0.1494, 4);
    expect(at30.uncertainty).toBeCloseTo(0.0041, 4);
  });
});

describe('JCGM 101:2008', () => {
  // Monte Carlo tolerances: four standard errors of the end at 2e5 draws.
  test('9.2.2 four normal inputs: u = 2.0, 95 % +-3.92', () => {
    const found = propagate((r) => r.normal() + r.normal() + r.normal() + r.normal(), { seed: 11 });
    expect(Math.abs(found.sd - 2)).toBeLessThan(0.013);
    expect(Math.abs(found.symmetricInterval[1] - 3.92)).toBeLessThan(0.05);
    expect(Math.abs(found.shortestInterval[0] + 3.92)).toBeLessThan(0.1);
  });

  test('9.2.3 four rectangular inputs: +-3.88, against +-3.92 of the GUM framework', () => {
    const a = Math.sqrt(3);
    const four = (r: { uniform(low: number, high: number): number }): number =>
      r.uniform(-a, a) + r.uniform(-a, a) + r.uniform(-a, a) + r.uniform(-a, a);
    const found = propagate(four, { seed: 12, draws: 1_000_000 });
    expect(Math.abs(found.symmetricInterval[0] + 3.8794)).toBeLessThan(0.02);
    expect(Math.abs(found.symmetricInterval[1] - 3.8794)).toBeLessThan(0.02);
  });

  test('9.2.4 one dominant rectangular input: +-17.0, against +-19.9', () => {
    const a = Math.sqrt(3);
    const found = propagate(
      (r) => r.uniform(-a, a) + r.uniform(-a, a) + r.uniform(-a, a) + r.uniform(-10 * a, 10 * a),
      { seed: 13 },
    );
    expect(Math.abs(found.symmetricInterval[1] - 17.0158)).toBeLessThan(0.1);
  });

  test('9.3 mass calibration: u = 0.0754, shortest [1.0834, 1.3825] (published values from memory)', () => {
    const found = propagate(
      (r) => {
        const reference = r.normal(100_000, 0.05) + r.normal(1.234, 0.02);
        const air = r.uniform(1.1, 1.3);
        const weight = r.uniform(7000, 9000);
        const density = r.uniform(7950, 8050);
        return reference * (1 + (air - 1.2) * (1 / weight - 1 / density)) - 100_000;
      },
      { seed: 14 },
    );
    expect(Math.abs(found.mean - 1.234)).toBeLessThan(0.001);
    expect(Math.abs(found.sd - 0.0754)).toBeLessThan(0.0006);
    expect(Math.abs(found.shortestInterval[0] - 1.0834)).toBeLessThan(0.006);
    expect(Math.abs(found.shortestInterval[1] - 1.3825)).toBeLessThan(0.006);
  });
});
