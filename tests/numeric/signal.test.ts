import { describe, expect, test } from 'vitest';
import { fitLine, lineAt } from '../../src/numeric/leastSquares.js';
import { goldenSection, nelderMead } from '../../src/numeric/minimise.js';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { fitSinusoid, lombScargle, powerSpectrum } from '../../src/numeric/spectrum.js';

describe('seeded random', () => {
  test('same seed, same stream; another seed, another stream', () => {
    const draw = (seed: number): number[] => {
      const r = seededRandom(seed);
      return Array.from({ length: 5 }, () => r.normal());
    };
    expect(draw(3)).toEqual(draw(3));
    expect(draw(3)).not.toEqual(draw(4));
    expect(() => seededRandom(0.5)).toThrow('expected seed');
  });

  test('moments of uniform and normal within four standard errors', () => {
    const r = seededRandom(9);
    const n = 100_000;
    let [mean, square, fourth, low] = [0, 0, 0, 0];
    for (let i = 0; i < n; i += 1) {
      const z = r.normal();
      mean += z / n;
      square += z ** 2 / n;
      fourth += z ** 4 / n;
      if (r.uniform(2, 4) < 2.5) low += 1 / n;
    }
    expect(Math.abs(mean)).toBeLessThan(4 / Math.sqrt(n));
    expect(Math.abs(square - 1)).toBeLessThan(4 * Math.sqrt(2 / n));
    expect(Math.abs(fourth - 3)).toBeLessThan(4 * Math.sqrt(96 / n));
    expect(Math.abs(low - 0.25)).toBeLessThan(4 * Math.sqrt(0.1875 / n));
  });
});

describe('line', () => {
  test('exact through exact points, far from the origin', () => {
    const x = [1e9, 1e9 + 1, 1e9 + 2];
    const fit = fitLine(x, [3, 5, 7], { origin: 1e9 });
    expect(fit.slope).toBeCloseTo(2, 12);
    expect(fit.intercept).toBeCloseTo(3, 9);
    expect(lineAt(fit, 1e9 + 10).value).toBeCloseTo(23, 9);
  });

  test('a point of small sd pulls the line; uncertainties follow the sds', () => {
    const fit = fitLine([0, 1, 2], [0, 1, 5], { sds: [0.1, 0.1, 100] });
    expect(fit.slope).toBeCloseTo(1, 3);
    expect(fit.slopeUncertainty).toBeCloseTo(Math.SQRT2 * 0.1, 3);
    expect(() => fitLine([1, 1], [1, 2])).toThrow('different');
  });
});

describe('minimisers', () => {
  test('golden section', () => {
    expect(goldenSection((x) => (x - 1.234) ** 2, -3, 8, 1e-7).x).toBeCloseTo(1.234, 6);
  });

  test('Nelder-Mead in the banana valley of Rosenbrock 1960', () => {
    const found = nelderMead(([a, b]) => 100 * (b! - a! ** 2) ** 2 + (1 - a!) ** 2, [-1.2, 1], [0.5, 0.5], {
      tolerance: 1e-14,
      maxCalls: 2000,
    });
    expect(found.converged).toBe(true);
    expect(found.x[0]).toBeCloseTo(1, 4);
    expect(found.x[1]).toBeCloseTo(1, 4);
  });
});

describe('spectrum', () => {
  const times = Array.from({ length: 480 }, (_, i) => i / 240);
  const wave = times.map((t) => 5 + 0.7 * Math.cos(2 * Math.PI * 33.3 * t - 0.4));

  test('power spectrum peaks at the frequency', () => {
    const { binWidth, power } = powerSpectrum(wave, 240);
    const peak = power.indexOf(Math.max(...power));
    expect(Math.abs(peak * binWidth - 33.3)).toBeLessThan(binWidth);
  });

  test('a sinusoid comes back with amplitude, phase and offset', () => {
    const fit = fitSinusoid(times, wave, 33.3);
    expect(fit.amplitude).toBeCloseTo(0.7, 10);
    expect(fit.phaseRad).toBeCloseTo(0.4, 10);
    expect(fit.offset).toBeCloseTo(5, 10);
    expect(fit.explained).toBeCloseTo(1, 10);
  });

  test('error of a fitted frequency from noisy frames reaches the bound (Kay vol. I sec. 3.11)', () => {
    // Amplitude uncertainty of a known frequency: sigma sqrt(2 / N).
    const r = seededRandom(2);
    const amplitudes = Array.from(
      { length: 200 },
      () =>
        fitSinusoid(
          times,
          wave.map((v) => v + r.normal(0, 0.2)),
          33.3,
        ).amplitude - 0.7,
    );
    const rms = Math.sqrt(amplitudes.reduce((sum, a) => sum + a * a, 0) / amplitudes.length);
    expect(rms / (0.2 * Math.sqrt(2 / 480))).toBeGreaterThan(0.85);
    expect(rms / (0.2 * Math.sqrt(2 / 480))).toBeLessThan(1.15);
  });

  test('Lomb-Scargle finds it with a third of the frames dropped', () => {
    const kept = times.map((_, i) => i).filter((i) => (i * 7) % 3 !== 0);
    const frequencies = Array.from({ length: 200 }, (_, k) => 20 + k * 0.1);
    const power = lombScargle(
      kept.map((i) => times[i]!),
      kept.map((i) => wave[i]!),
      frequencies,
    );
    expect(frequencies[power.indexOf(Math.max(...power))]).toBeCloseTo(33.3, 6);
  });
});
