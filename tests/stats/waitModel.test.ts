import { describe, expect, test } from 'vitest';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { logTwoWaitsShape, logWaitShape, waitShape } from '../../src/stats/waitDensity.js';
import { fitWaitModel, type LatencyValue } from '../../src/stats/waitModel.js';

const PERIOD_MS = 1000 / 60;

function latencies(
  n: number,
  delayMs: number,
  uncertaintyMs: number,
  seed: number,
  jitterMs = 0,
): LatencyValue[] {
  const r = seededRandom(seed);
  return Array.from({ length: n }, () => ({
    valueMs: delayMs + r.uniform(0, PERIOD_MS) + r.uniform(0, jitterMs) + r.normal(0, uncertaintyMs),
    uncertaintyMs,
  }));
}

describe('densities', () => {
  test('integrate to the period, or to period times width', () => {
    for (const sigma of [0.05, 0.7, 3]) {
      let one = 0;
      let plain = 0;
      let two = 0;
      const step = 0.01;
      for (let x = -30; x < 60; x += step) {
        one += step * Math.exp(logWaitShape(x, sigma, PERIOD_MS));
        plain += step * waitShape(x, sigma, PERIOD_MS);
        two += step * Math.exp(logTwoWaitsShape(x, sigma, PERIOD_MS, 8));
      }
      expect(one / PERIOD_MS).toBeCloseTo(1, 4);
      expect(plain / PERIOD_MS).toBeCloseTo(1, 4);
      expect(two / (PERIOD_MS * 8)).toBeCloseTo(1, 4);
    }
  });

  test('stay finite and fall steadily far outside', () => {
    for (const x of [-1e4, -500, -50, 100, 1e4]) {
      expect(Number.isFinite(logWaitShape(x, 0.2, PERIOD_MS))).toBe(true);
      expect(Number.isFinite(logTwoWaitsShape(x, 0.2, PERIOD_MS, 5))).toBe(true);
    }
    expect(logTwoWaitsShape(-3, 0.5, PERIOD_MS, 5)).toBeGreaterThan(
      logTwoWaitsShape(-3.1, 0.5, PERIOD_MS, 5),
    );
  });

  test('the trapezoid is the plain wait averaged over the second wait', () => {
    for (const x of [-1, 0.3, 7, 20]) {
      let sum = 0;
      for (let k = 0; k < 4000; k += 1) {
        sum += Math.exp(logWaitShape(x - (6 * (k + 0.5)) / 4000, 0.8, PERIOD_MS)) * (6 / 4000);
      }
      expect(logTwoWaitsShape(x, 0.8, PERIOD_MS, 6)).toBeCloseTo(Math.log(sum), 4);
    }
  });
});

describe('fit', () => {
  test('a fixed chain: delay inside its interval, far narrower than the wait, called fixed', () => {
    const fit = fitWaitModel(latencies(40, 60, 0.5, 1), { periodMs: PERIOD_MS });
    expect(fit.model).toBe('one-refresh');
    expect(fit.lag).toBe('fixed');
    expect(fit.intervalMs[0]).toBeLessThan(60);
    expect(fit.intervalMs[1]).toBeGreaterThan(60);
    expect(fit.intervalMs[1] - fit.intervalMs[0]).toBeLessThan(3);
    expect(fit.jitterMs).toBeLessThan(0.5);
  });

  test('uniform jitter of one display frame: called variable', () => {
    const fit = fitWaitModel(latencies(40, 60, 0.5, 2, PERIOD_MS), { periodMs: PERIOD_MS });
    expect(fit.model).toBe('jitter');
    expect(fit.lag).toBe('variable');
    expect(fit.jitterIntervalMs[0]).toBeGreaterThan(2);
    expect(fit.jitterMs).toBeCloseTo(PERIOD_MS / Math.sqrt(12), -1);
  });

  test('presses that miss a whole refresh now and then: called variable, and by its name', () => {
    const late = latencies(40, 60, 0.4, 3).map((l, i) =>
      i % 8 === 0 ? { ...l, valueMs: l.valueMs + PERIOD_MS } : l,
    );
    const fit = fitWaitModel(late, { periodMs: PERIOD_MS });
    expect(fit).toMatchObject({ model: 'jitter', jitterShape: 'late-refresh', lag: 'variable' });
    expect(Math.abs(fit.fixedDelayMs - 60)).toBeLessThan(1.5);
  });

  test('no wait at all: the delay is the mean', () => {
    const r = seededRandom(4);
    const values = Array.from({ length: 20 }, () => ({ valueMs: 40 + r.normal(0, 0.5), uncertaintyMs: 0.5 }));
    const fit = fitWaitModel(values, { periodMs: PERIOD_MS });
    expect(fit).toMatchObject({ model: 'no-wait', lag: 'fixed' });
    expect(Math.abs(fit.fixedDelayMs - 40)).toBeLessThan(0.5);
  });

  test('without a period a wide spread is undecided, a narrow one fixed', () => {
    expect(fitWaitModel(latencies(30, 60, 0.3, 5), { periodMs: null }).lag).toBe('undecided');
    const r = seededRandom(6);
    const narrow = Array.from({ length: 20 }, () => ({ valueMs: 40 + r.normal(0, 0.4), uncertaintyMs: 0.4 }));
    expect(fitWaitModel(narrow, { periodMs: null }).lag).toBe('fixed');
  });

  test('shifting all latencies shifts the delay and nothing else', () => {
    const base = latencies(15, 60, 0.5, 7);
    const a = fitWaitModel(base, { periodMs: PERIOD_MS });
    const b = fitWaitModel(
      base.map((l) => ({ ...l, valueMs: l.valueMs + 100 })),
      { periodMs: PERIOD_MS },
    );
    expect(b.fixedDelayMs - a.fixedDelayMs).toBeCloseTo(100, 3);
    expect(b.jitterMs).toBeCloseTo(a.jitterMs, 3);
    expect(b.lag).toBe(a.lag);
  });

  test('scaling time scales the answer', () => {
    const base = latencies(15, 60, 0.5, 8);
    const a = fitWaitModel(base, { periodMs: PERIOD_MS });
    const b = fitWaitModel(
      base.map((l) => ({ valueMs: 2 * l.valueMs, uncertaintyMs: 2 * l.uncertaintyMs })),
      { periodMs: 2 * PERIOD_MS },
    );
    expect(b.fixedDelayMs).toBeCloseTo(2 * a.fixedDelayMs, 3);
    expect(b.variableProbability).toBeCloseTo(a.variableProbability, 4);
  });

  test('the common uncertainty widens the interval in quadrature', () => {
    const base = latencies(60, 60, 0.2, 9);
    const width = (commonUncertaintyMs: number): number => {
      const [low, high] = fitWaitModel(base, { periodMs: PERIOD_MS, commonUncertaintyMs }).intervalMs;
      return high - low;
    };
    expect(width(3)).toBeGreaterThan(0.97 * 3 * 3.92);
    expect(width(3)).toBeLessThan(1.1 * 3 * 3.92);
    expect(width(0)).toBeLessThan(2);
  });

  test('odd input stays bounded: one latency, equal latencies, zero uncertainty, a wild value', () => {
    const fits = [
      fitWaitModel([{ valueMs: 70, uncertaintyMs: 0.5 }], { periodMs: PERIOD_MS }),
      fitWaitModel(
        Array.from({ length: 10 }, () => ({ valueMs: 70, uncertaintyMs: 0 })),
        { periodMs: PERIOD_MS },
      ),
      fitWaitModel([...latencies(20, 60, 0.1, 10), { valueMs: 400, uncertaintyMs: 0.1 }], {
        periodMs: PERIOD_MS,
      }),
    ];
    for (const fit of fits) {
      for (const v of [fit.fixedDelayMs, ...fit.intervalMs, fit.jitterMs, ...fit.jitterIntervalMs]) {
        expect(Number.isFinite(v)).toBe(true);
      }
      expect(fit.intervalMs[0]).toBeLessThanOrEqual(fit.fixedDelayMs);
      expect(fit.intervalMs[1]).toBeGreaterThanOrEqual(fit.fixedDelayMs);
    }
    expect(fits[0]!.lag).toBe('undecided');
    expect(fits[2]!.lag).toBe('variable');
  });

  test('wrong calls are refused in one sentence', () => {
    expect(() => fitWaitModel([], { periodMs: 16 })).toThrow('expected latencies to be at least one latency');
    expect(() => fitWaitModel([{ valueMs: Number.NaN, uncertaintyMs: 1 }], { periodMs: 16 })).toThrow(
      'valueMs',
    );
    expect(() => fitWaitModel([{ valueMs: 1, uncertaintyMs: 1 }], { periodMs: 0 })).toThrow('periodMs');
  });

  test('a hundred latencies take well under a tenth of a second of processor time', () => {
    const data = latencies(100, 60, 0.5, 11);
    fitWaitModel(data, { periodMs: PERIOD_MS });
    const before = process.cpuUsage();
    for (let k = 0; k < 5; k += 1) fitWaitModel(data, { periodMs: PERIOD_MS });
    const { user } = process.cpuUsage(before);
    expect(user / 5000).toBeLessThan(100);
  });
});
