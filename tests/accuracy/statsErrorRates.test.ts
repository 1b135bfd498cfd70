import { afterAll, describe, expect, test } from 'vitest';
import { type SeededRandom, seededRandom } from '../../src/numeric/seededRandom.js';
import { bootstrapInterval } from '../../src/stats/bootstrap.js';
import { mean, sampleVariance } from '../../src/stats/describe.js';
import { excessVariance } from '../../src/stats/excessVariance.js';
import { shiftByExchange } from '../../src/stats/exchange.js';
import { studentDensity } from '../../src/stats/gridDensity.js';
import { hodgesLehmann } from '../../src/stats/hodgesLehmann.js';
import { meansExchanged } from '../../src/stats/meanShift.js';
import { medianInterval } from '../../src/stats/medianInterval.js';
import { differenceFound } from '../../src/stats/randomEffects.js';
import { rankTest } from '../../src/stats/rankTest.js';

const SEED = 31;
const rows: string[] = [];
afterAll(() => console.log(`error rates, seed ${SEED}:\n${rows.join('\n')}`));

const draw = (n: number, one: () => number): number[] => Array.from({ length: n }, one);

/** Share of runs in which `alarm` is true; a line for the log. */
function rate(name: string, runs: number, alarm: (random: SeededRandom) => boolean): number {
  const random = seededRandom(SEED);
  let count = 0;
  for (let k = 0; k < runs; k += 1) if (alarm(random)) count += 1;
  rows.push(`  ${name.padEnd(52)} ${((100 * count) / runs).toFixed(1)} %`);
  return count / runs;
}

// Nothing differs: a 5 % test must alarm in 5 % of runs. 1000 runs: three standard deviations are 2.1 %.
const RUNS = 1000;
const LOW = 0.029;
const HIGH = 0.071;

describe.each([
  [25, 25],
  [5, 45],
  [10, 90],
] as const)('false alarms at %i against %i latencies with a wait of one refresh', (m, n) => {
  const wait = (r: SeededRandom) => (): number => r.uniform(0, 16.67) + r.normal(0, 0.5);

  test('difference of means by exchange', () => {
    const share = rate(`means by exchange ${m}/${n}`, RUNS, (r) => {
      const x = draw(m, wait(r));
      const y = draw(n, wait(r));
      const error = Math.sqrt(sampleVariance(x) / m + sampleVariance(y) / n);
      const guess = studentDensity(mean(x) - mean(y), error, m + n - 2, error / 20);
      return differenceFound(shiftByExchange(guess, meansExchanged(x, y)), 1).p <= 0.05;
    });
    expect(share).toBeGreaterThan(LOW);
    expect(share).toBeLessThan(HIGH);
  });

  test('rank test', () => {
    const share = rate(
      `rank test ${m}/${n}`,
      RUNS,
      (r) => rankTest(draw(m, wait(r)), draw(n, wait(r))).p <= 0.05,
    );
    expect(share).toBeGreaterThan(LOW);
    expect(share).toBeLessThan(HIGH);
  });

  test('interval of the Hodges-Lehmann shift misses a shift of 4 ms', () => {
    const share = rate(`Hodges-Lehmann interval misses ${m}/${n}`, m === 10 ? 300 : RUNS, (r) => {
      const { interval } = hodgesLehmann(
        draw(m, wait(r)).map((v) => v + 4),
        draw(n, wait(r)),
      );
      return interval[0] > 4 || interval[1] < 4;
    });
    expect(share).toBeGreaterThan(m === 10 ? 0.012 : LOW);
    expect(share).toBeLessThan(m === 10 ? 0.088 : HIGH);
  });
});

test('equivalence is claimed wrongly in 5 % where the lag stands exactly at the margin', () => {
  const share = rate('equivalence at the margin, 100/100', RUNS, (r) => {
    const x = draw(100, () => r.normal(1, 1));
    const y = draw(100, () => r.normal(0, 1));
    const error = Math.sqrt((sampleVariance(x) + sampleVariance(y)) / 100);
    return differenceFound(studentDensity(mean(x) - mean(y), error, 198, error / 20), 1).pEquivalence < 0.05;
  });
  expect(share).toBeGreaterThan(LOW);
  expect(share).toBeLessThan(HIGH);
});

test('median interval holds the median as often as it says, skewed values', () => {
  const stated = medianInterval(draw(20, () => 0))!.confidence;
  const misses = rate('median interval misses, n = 20 (states 4.1 %)', 3000, (r) => {
    const found = medianInterval(draw(20, () => -Math.log(1 - r.uniform())))!;
    return found.low > Math.LN2 || found.high < Math.LN2;
  });
  expect(Math.abs(misses - (1 - stated))).toBeLessThan(3 * Math.sqrt((0.041 * 0.959) / 3000));
});

test('interval of the excess spread, true jitter 0.5 ms beside u = 0.69 ms', () => {
  const misses = rate('excess spread interval misses', 2000, (r) => {
    const found = excessVariance(
      draw(30, () => r.normal(0, Math.hypot(0.5, 0.69))),
      0.69,
    ).excessSdInterval;
    return found[0] > 0.5 || found[1] < 0.5;
  });
  expect(misses).toBeGreaterThan(0.035);
  expect(misses).toBeLessThan(0.065);
});

test('BCa interval of a mean of 30 skewed values', () => {
  // The bootstrap is first-order exact only: 7 to 8 % misses are normal at this n (DiCiccio & Efron 1996).
  const misses = rate('BCa interval misses, exponential, n = 30', 400, (r) => {
    const found = bootstrapInterval(
      draw(30, () => -Math.log(1 - r.uniform())),
      mean,
      { seed: r.integer(1e9), resamples: 1000 },
    ).interval;
    return found[0] > 1 || found[1] < 1;
  });
  expect(misses).toBeGreaterThan(0.03);
  expect(misses).toBeLessThan(0.12);
});
