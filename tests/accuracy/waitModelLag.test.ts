import { afterAll, expect, test } from 'vitest';
import { type SeededRandom, seededRandom } from '../../src/numeric/seededRandom.js';
import { fitWaitModel } from '../../src/stats/waitModel.js';

const SEED = 77;
const RUNS = 250;
const rows: string[] = [];
afterAll(() => console.log(`wait model, lag called fixed / variable / undecided:\n${rows.join('\n')}`));

function calls(name: string, n: number, periodMs: number, jitterMs: (r: SeededRandom) => number) {
  const random = seededRandom(SEED);
  const share = { fixed: 0, variable: 0, undecided: 0 };
  for (let k = 0; k < RUNS; k += 1) {
    const uncertaintyMs = random.uniform(0.2, 0.7);
    const latencies = Array.from({ length: n }, () => ({
      valueMs: 50 + random.uniform(0, periodMs) + jitterMs(random) + random.normal(0, uncertaintyMs),
      uncertaintyMs,
    }));
    share[fitWaitModel(latencies, { periodMs }).lag] += 1 / RUNS;
  }
  const percent = Object.values(share).map((s) => (100 * s).toFixed(1));
  rows.push(`  ${name.padEnd(40)} ${percent.join(' / ')} %`);
  return share;
}

// Wanted: at most 1 % wrong calls, never more than 5 %. 250 runs: three standard deviations of 1 % are 1.9 %.
const WRONG_AT_MOST = 0.03;
const AT_60_HZ = 1000 / 60;

test.each([10, 20, 40])('fixed chain, %i presses: hardly ever called variable', (n) => {
  const share = calls(`fixed, n = ${n}`, n, AT_60_HZ, () => 0);
  expect(share.variable).toBeLessThan(WRONG_AT_MOST);
  if (n >= 20) expect(share.fixed).toBeGreaterThan(0.75);
});

test.each([10, 20, 40])('uniform jitter of one display frame, %i presses: hardly ever called fixed', (n) => {
  const share = calls(`uniform jitter of one frame, n = ${n}`, n, AT_60_HZ, (r) => r.uniform(0, AT_60_HZ));
  expect(share.fixed).toBeLessThan(WRONG_AT_MOST);
  if (n >= 20) expect(share.variable).toBeGreaterThan(0.9);
});

test('at 120 Hz with 20 presses both hold too', () => {
  const period = 1000 / 120;
  expect(calls('fixed, n = 20, 120 Hz', 20, period, () => 0).variable).toBeLessThan(WRONG_AT_MOST);
  const share = calls('uniform jitter of one frame, n = 20, 120 Hz', 20, period, (r) => r.uniform(0, period));
  expect(share.fixed).toBeLessThan(WRONG_AT_MOST);
});

test('one press in ten a whole refresh late, 40 presses: called variable', () => {
  const share = calls('1 in 10 late by a refresh, n = 40', 40, AT_60_HZ, (r) =>
    r.uniform() < 0.1 ? AT_60_HZ : 0,
  );
  expect(share.variable).toBeGreaterThan(0.85);
});

test('Gaussian jitter of half a millisecond counts as fixed', () => {
  const share = calls('Gaussian jitter 0.5 ms, n = 40', 40, AT_60_HZ, (r) => r.normal(0, 0.5));
  expect(share.variable).toBeLessThan(WRONG_AT_MOST);
});
