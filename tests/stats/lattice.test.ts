import { describe, expect, test } from 'vitest';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { fitLattice } from '../../src/stats/lattice.js';
import { phaseUniformity } from '../../src/stats/phaseUniformity.js';

const TRUE_PERIOD_MS = 1000 / 60.0988;
const CANDIDATES = [1000 / 60, 1000 / 50, 1000 / 120];

function lattice(
  n: number,
  spanMs: number,
  noiseMs: number,
  seed: number,
  periodMs = TRUE_PERIOD_MS,
): number[] {
  const r = seededRandom(seed);
  return Array.from(
    { length: n },
    () => 123.4 + periodMs * Math.floor(r.uniform(0, spanMs / periodMs)) + r.normal(0, noiseMs),
  );
}

describe('lattice', () => {
  test('finds the period to parts per million, with an honest uncertainty (20 changes in 20 s, 0.3 ms)', () => {
    let squares = 0;
    let claimed = 0;
    const runs = 100;
    for (let k = 0; k < runs; k += 1) {
      const fit = fitLattice(lattice(20, 20_000, 0.3, k), { candidatesMs: CANDIDATES });
      expect(fit.found).toBe(true);
      squares += (fit.periodMs - TRUE_PERIOD_MS) ** 2 / runs;
      claimed += fit.periodUncertaintyMs / runs;
    }
    // Monte Carlo in numpy: 12 ppm rms.
    expect((Math.sqrt(squares) / TRUE_PERIOD_MS) * 1e6).toBeLessThan(16);
    expect(Math.sqrt(squares) / claimed).toBeGreaterThan(0.8);
    expect(Math.sqrt(squares) / claimed).toBeLessThan(1.25);
  });

  test('takes 60, not its half of 120; and 120 where it is 120', () => {
    expect(fitLattice(lattice(30, 30_000, 0.3, 1), { candidatesMs: CANDIDATES }).periodMs).toBeCloseTo(
      16.64,
      2,
    );
    const fast = fitLattice(lattice(30, 30_000, 0.3, 2, 1000 / 120), { candidatesMs: CANDIDATES });
    expect(fast.periodMs).toBeCloseTo(1000 / 120, 3);
  });

  test('scattered times are no lattice, nearly always', () => {
    let found = 0;
    for (let k = 0; k < 200; k += 1) {
      const r = seededRandom(1000 + k);
      const times = Array.from({ length: 20 }, () => r.uniform(0, 20_000));
      if (fitLattice(times, { candidatesMs: CANDIDATES }).found) found += 1;
    }
    expect(found).toBeLessThanOrEqual(2);
  });

  test('says why there is none', () => {
    const r = seededRandom(5);
    const fit = fitLattice(
      Array.from({ length: 20 }, () => r.uniform(0, 20_000)),
      { candidatesMs: [1000 / 60] },
    );
    expect(fit.reason).toContain('do not fall on a lattice');
  });
});

describe('phase uniformity', () => {
  test('Rayleigh critical length at 5 %: n = 10, 20, 50 near sqrt(-ln 0.05 / n)', () => {
    // False alarms at that level, simulated.
    for (const n of [10, 50]) {
      let alarms = 0;
      for (let k = 0; k < 2000; k += 1) {
        const r = seededRandom(k);
        if (
          phaseUniformity(
            Array.from({ length: n }, () => r.uniform(0, 5000)),
            16.7,
          ).p < 0.05
        )
          alarms += 1;
      }
      expect(alarms / 2000).toBeGreaterThan(0.036);
      expect(alarms / 2000).toBeLessThan(0.064);
    }
  });

  test('a metronome at a multiple of the refresh is caught, an irregular hand is not', () => {
    const r = seededRandom(3);
    const locked = Array.from({ length: 20 }, (_, i) => i * 60 * 16.7 + r.normal(0, 1));
    const free = Array.from({ length: 20 }, (_, i) => i * 1000 + r.normal(0, 60));
    expect(phaseUniformity(locked, 16.7).warning).toContain('same phase');
    expect(phaseUniformity(free, 16.7).locked).toBe(false);
  });
});
