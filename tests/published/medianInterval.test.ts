import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { medianInterval, quantileRanks } from '../../src/stats/medianInterval.js';

// Ranks and achieved confidence of the median's interval: binomial table, as printed for n = 6, 9, 10, 12, 15, 20 in
// textbook tables (seen in a secondary copy; the others computed from the binomial distribution in scipy).
test.each([
  [6, 1, 6, 0.9688],
  [7, 1, 7, 0.9844],
  [8, 1, 8, 0.9922],
  [9, 2, 8, 0.9609],
  [10, 2, 9, 0.9785],
  [11, 2, 10, 0.9883],
  [12, 3, 10, 0.9614],
  [15, 4, 12, 0.9648],
  [16, 4, 13, 0.9787],
  [20, 6, 15, 0.9586],
  [25, 8, 18, 0.9567],
  [30, 10, 21, 0.9572],
  [50, 18, 33, 0.9672],
  [100, 40, 61, 0.9648],
])('median of n = %i lies between ranks %i and %i', (n, low, high, confidence) => {
  const found = medianInterval(Array.from({ length: n }, (_, i) => i + 1))!;
  expect(found.ranks).toEqual([low, high]);
  expect([found.low, found.high]).toEqual([low, high]);
  expect(Math.abs(found.confidence - confidence)).toBeLessThan(1e-4);
});

test('five values are too few', () => {
  expect(medianInterval([3, 1, 2, 5, 4])).toBeNull();
});

test('worked: the speeds of Michelson', () => {
  const strd = JSON.parse(readFileSync(new URL('./data/nist-strd-univariate.json', import.meta.url), 'utf8'));
  const found = medianInterval(strd.Michelso.values)!;
  expect([(found.low - 299) * 1000, (found.high - 299) * 1000].map(Math.round)).toEqual([840, 870]);
});

// Hahn & Meeker, Statistical Intervals, ch. 5 (from memory for the chapter; ranks computed in scipy): equal-tailed 95 %.
test.each([
  [0.9, 50, 41, 50, 0.97],
  [0.9, 100, 84, 96, 0.956],
  [0.9, 200, 171, 189, 0.967],
  [0.9, 500, 436, 464, 0.963],
  [0.95, 100, 90, 100, 0.983],
  [0.95, 200, 184, 197, 0.967],
  [0.95, 500, 465, 485, 0.96],
  [0.99, 500, 490, 500, 0.98],
])('quantile %f of n = %i between ranks %i and %i', (p, n, low, high, confidence) => {
  const found = quantileRanks(n, p);
  expect([found.low, found.high]).toEqual([low, high]);
  expect(found.confidence).toBeCloseTo(confidence, 3);
});

test('an extreme quantile has no upper bound with few values', () => {
  expect(quantileRanks(50, 0.95)).toMatchObject({ low: 44, high: null });
  expect(quantileRanks(200, 0.99).high).toBeNull();
});
