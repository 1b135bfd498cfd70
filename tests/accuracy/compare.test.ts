/** A small part of `npm run accuracy:compare` for CI: latencies by the wait model, and a few filmed sets. */
import { expect, test } from 'vitest';
import {
  bench,
  type ComparedSet,
  filmedPair,
  filmedSet,
  latencySet,
  pairedSet,
  streamOf,
} from './compareSets.js';

const shareOf = (sets: readonly ComparedSet[], is: (set: ComparedSet) => boolean): number =>
  sets.filter(is).length / sets.length;
const isEquivalent = ({ found }: ComparedSet): boolean => found.verdict === 'no-added-lag';
const law = { delayMs: 50, uncertaintyMs: 0.2 };
const sets = (row: number, n: number, presses: readonly [number, number], chain: object): ComparedSet[] => {
  const random = streamOf(1000 + row);
  return Array.from({ length: n }, () =>
    latencySet(random, { presses, chain: { ...law, ...chain }, baseline: law }),
  );
};

test('the same chain twice at 80 presses: equivalent in nine of ten sets, different in hardly any', () => {
  const made = sets(0, 60, [80, 80], {});
  // The table has 94 % over 400 sets; 60 sets scatter by 3 %.
  expect(shareOf(made, isEquivalent)).toBeGreaterThanOrEqual(0.85);
  expect(shareOf(made, (s) => s.found.p! <= 0.05)).toBeLessThanOrEqual(0.1);
});

test('4.0 ms at 30 presses: RMS error at most 0.75 ms, held by the interval', () => {
  const made = sets(1, 80, [30, 30], { delayMs: 54 });
  const square = made.reduce((sum, s) => sum + (s.found.addedMs! - 4) ** 2, 0) / made.length;
  console.log(`4.0 ms at 30 presses: RMS error ${Math.sqrt(square).toFixed(3)} ms over ${made.length} sets`);
  expect(Math.sqrt(square)).toBeLessThan(0.75);
  expect(
    shareOf(made, ({ found }) => found.intervalMs![0] <= 4 && 4 <= found.intervalMs![1]),
  ).toBeGreaterThan(0.9);
});

test('15 pairs: no difference is shown to be none, 2 ms are found', () => {
  const random = streamOf(1002);
  const none = Array.from({ length: 50 }, () => pairedSet(random, 15, 0, 0.3));
  const two = Array.from({ length: 50 }, () => pairedSet(random, 15, 2, 0.3));
  expect(shareOf(none, isEquivalent)).toBeGreaterThanOrEqual(0.9);
  expect(shareOf(two, (s) => Math.abs(s.found.addedMs! - 2) <= 0.4)).toBeGreaterThanOrEqual(0.95);
});

test('uniform over two display frames is variable at 20 presses, a fixed lag is not', () => {
  expect(
    shareOf(sets(3, 60, [20, 30], { jitterFrames: 2 }), (s) => s.found.verdict === 'adds-variable'),
  ).toBeGreaterThanOrEqual(0.95);
  expect(shareOf(sets(4, 60, [20, 30], {}), (s) => s.found.lag === 'variable')).toBeLessThanOrEqual(0.05);
});

test('a filmed bench: 4 ms between two clips, pairs side by side and one below the other', async () => {
  const scene = bench(4711, 0.95);
  const { found } = await filmedSet(
    scene,
    { seed: 1, presses: 30, delayMs: 50 },
    { seed: 2, presses: 30, delayMs: 54 },
  );
  expect(found.verdict).toBe('adds-fixed');
  expect(Math.abs(found.addedMs! - 4)).toBeLessThan(2);
  const side = await filmedPair(scene, { seed: 3, presses: 15, delayMs: 50 }, false);
  expect(side.found.verdict).toBe('no-added-lag');
  const below = await filmedPair(scene, { seed: 4, presses: 15, delayMs: 50 }, true);
  expect(below.truthMs).toBeGreaterThan(1.5);
  expect(Math.abs(below.found.addedMs! - below.truthMs)).toBeLessThan(0.4);
});
