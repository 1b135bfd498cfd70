import { expect, it } from 'vitest';
import { compareRecords } from '../../src/compare/compareRecords.js';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { studentTQuantile, studentTTwoSidedP } from '../../src/numeric/studentT.js';
import { mean, sampleSd } from '../../src/stats/describe.js';
import { drawLatencies, madeRecord } from './madeRecord.js';

const BY = { by: ['chain'], baseline: { chain: 'Direct' } } as const;
const random = seededRandom(8);
const U = 0.25;

/** Two screens in one picture: common wait, own measurement errors. */
function pairedClip(file: string, n: number, addedMs: number, jitterMs = 0, claimedMs = U) {
  const waits = drawLatencies(random, n, { delayMs: 40, uncertaintyMs: 0 });
  const noisy = (ms: number): number => ms + random.normal(0, U);
  return madeRecord(file, {
    labels: { bench: 'north' },
    uncertaintyMs: claimedMs,
    regions: [
      { name: 'left', labels: { chain: 'Direct' }, latenciesMs: waits.map(noisy) },
      {
        name: 'right',
        labels: { chain: 'Birch' },
        latenciesMs: waits.map((w) => noisy(w + addedMs + random.uniform(0, jitterMs))),
        y: 300,
      },
    ],
  });
}

it('15 presses show two screens equal, by the paired t interval exactly', () => {
  // Claimed to be better than it is, so that the scatter alone decides.
  const input = pairedClip('pair.mp4', 15, 0, 0, 0.05);
  const found = compareRecords([input], BY).comparisons[0]!;
  expect(found.method).toBe('paired');
  expect(found.verdict).toBe('no-added-lag');
  expect(found.paired).toMatchObject({ clips: 1, pairs: 15, lag: 'fixed' });
  const side = (region: string) =>
    input.record.presses.map((p) => p.responses.find((r) => r.region === region)!.latencyMs!);
  const left = side('left');
  const differences = side('right').map((v, i) => v - left[i]!);
  const error = sampleSd(differences) / Math.sqrt(15);
  const difference = mean(differences);
  const half = (level: number): number => studentTQuantile(level, 14) * error;
  const TOLERANCE_MS = 2e-3; // lattice of the distribution
  expect(Math.abs(found.addedMs! - difference)).toBeLessThan(TOLERANCE_MS);
  expect(Math.abs(found.intervalMs![0] - (difference - half(0.975)))).toBeLessThan(TOLERANCE_MS);
  expect(Math.abs(found.intervalMs![1] - (difference + half(0.975)))).toBeLessThan(TOLERANCE_MS);
  expect(found.p!).toBeCloseTo(studentTTwoSidedP(difference / error, 14), 3);
  expect(found.equivalence!.interval90Ms[0]).toBeCloseTo(difference - half(0.95), 2);
  // The unpaired estimate stands beside it, far less sure.
  const [low, high] = found.waitModel!.intervalMs;
  expect(high - low).toBeGreaterThan(10 * half(0.975));
});

it('errors that repeat from press to press do not make the camera better than it claims', () => {
  const values = drawLatencies(random, 15, { delayMs: 40 });
  const made = madeRecord('pair.mp4', {
    labels: {},
    uncertaintyMs: 0.3,
    regions: [
      { name: 'left', labels: { chain: 'Direct' }, latenciesMs: values },
      { name: 'right', labels: { chain: 'Birch' }, latenciesMs: values.map((v, i) => v + (i % 2) / 1000) },
    ],
  });
  const found = compareRecords([made], BY).comparisons[0]!;
  // 0.3 ms each without the LED's 40 %: u = 0.3 sqrt(2 (1 - 0.16)) = 0.39 ms a pair; t(14) = 2.145.
  expect((found.intervalMs![1] - found.intervalMs![0]) / 2).toBeCloseTo((2.145 * 0.389) / Math.sqrt(15), 2);
});

it('two screens do not stand at one height, and need not', () => {
  expect(() => compareRecords([pairedClip('pair.mp4', 15, 0)], BY)).not.toThrow();
});

it('2 ms are found within 0.4 ms, fixed', () => {
  const found = compareRecords([pairedClip('pair.mp4', 15, 2)], BY).comparisons[0]!;
  expect(found.verdict).toBe('adds-fixed');
  expect(Math.abs(found.addedMs! - 2)).toBeLessThan(0.4);
});

it('a difference that wanders is variable, with the range that was seen', () => {
  const found = compareRecords([pairedClip('pair.mp4', 20, 17, 1000 / 30)], BY).comparisons[0]!;
  expect(found.verdict).toBe('adds-variable');
  expect(found.addedRangeMs![0]).toBeGreaterThan(15);
  expect(found.addedRangeMs![1]).toBeLessThan(52);
});

it('presses without a response on one side are no pair; several clips are random effects', () => {
  const gap = pairedClip('gap.mp4', 15, 0);
  const presses = gap.record.presses.map((p, i) =>
    i < 3
      ? { ...p, responses: [p.responses[0]!, { region: 'right', status: 'no-response' as const, flags: [] }] }
      : p,
  );
  const found = compareRecords(
    [{ ...gap, record: { ...gap.record, presses } }, pairedClip('b.mp4', 15, 0)],
    BY,
  ).comparisons[0]!;
  expect(found.paired).toMatchObject({ clips: 2, pairs: 12 + 15 });
});

it('clips that disagree by 1 ms do not pool to a sure answer', () => {
  const together = compareRecords([pairedClip('a.mp4', 15, -1), pairedClip('b.mp4', 15, 1)], BY)
    .comparisons[0]!;
  const [low, high] = together.intervalMs!;
  expect(low).toBeLessThan(-1);
  expect(high).toBeGreaterThan(1);
});

it('the readout between the two places of one picture counts, signed', () => {
  const common = [{ name: 'row readout', standardUncertaintyMs: 1, type: 'B' as const, common: true }];
  const values = drawLatencies(random, 15, { delayMs: 40 });
  const made = (secondY: number) =>
    madeRecord('pair.mp4', {
      labels: {},
      common,
      ledY: 200,
      regions: [
        { name: 'left', labels: { chain: 'Direct' }, latenciesMs: values },
        {
          name: 'right',
          labels: { chain: 'Birch' },
          latenciesMs: values.map((v, i) => v + (i % 2 ? 0.1 : -0.1)),
          y: secondY,
        },
      ],
    });
  const width = (y: number): number => {
    const [low, high] = compareRecords([made(y)], BY).comparisons[0]!.intervalMs!;
    return high - low;
  };
  // Both above the LED: the error is common. One above, one below: it counts twice.
  expect(width(100)).toBeLessThan(0.3);
  expect(width(300)).toBeGreaterThan(2 * 1.96 * 1.9);
});
