import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { type QuantileType, quantile } from '../../src/stats/quantile.js';

// Michelson's 100 speeds of light (NIST StRD Michelso = R datasets::morley).
const michelso: number[] = JSON.parse(
  readFileSync(new URL('./data/nist-strd-univariate.json', import.meta.url), 'utf8'),
).Michelso.values.map((v: number) => Math.round((v - 299) * 1000));

test('NIST e-Handbook 7.2.6.2: 90th percentile of 12 resistivities', () => {
  const x = [
    95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.061, 95.1591, 95.1195, 95.1065, 95.0925, 95.199, 95.1682,
  ];
  expect(quantile(x, 0.9, 6)).toBeCloseTo(95.19807, 10); // published 95.1981
  // The other definitions as R's quantile() gives them.
  expect(quantile(x, 0.9, 7)).toBeCloseTo(95.19568, 10);
  expect(quantile(x, 0.9, 8)).toBeCloseTo(95.1972433, 7);
  expect(quantile(x, 0.25, 6)).toBeCloseTo(95.10975, 10);
  expect(quantile(x, 0.25, 7)).toBeCloseTo(95.11625, 10);
  expect(quantile(x, 0.25, 8)).toBeCloseTo(95.1119167, 7);
});

// R 4: quantile(1:10, c(.05,.1,.25,.5,.9,.95), type = t).
const ONE_TO_TEN: [QuantileType, number[]][] = [
  [6, [1, 1.1, 2.75, 5.5, 9.9, 10]],
  [7, [1.45, 1.9, 3.25, 5.5, 9.1, 9.55]],
  [8, [1, 1.3666667, 2.9166667, 5.5, 9.6333333, 10]],
];
test.each(ONE_TO_TEN)('R quantile(1:10), type %i', (type, wanted) => {
  const x = [7, 1, 10, 4, 2, 9, 3, 8, 6, 5];
  [0.05, 0.1, 0.25, 0.5, 0.9, 0.95].forEach((p, i) => {
    expect(quantile(x, p, type)).toBeCloseTo(wanted[i]!, 6);
  });
});

// R 4: quantile(morley$Speed, c(.05,.25,.5,.75,.95), type = t).
const MORLEY: [QuantileType, number[]][] = [
  [7, [739, 807.5, 850, 892.5, 980]],
  [8, [727, 804.1667, 850, 895.8333, 980]],
  [6, [721, 802.5, 850, 897.5, 980]],
];
test.each(MORLEY)('Michelson speeds, type %i', (type, wanted) => {
  [0.05, 0.25, 0.5, 0.75, 0.95].forEach((p, i) => {
    expect(quantile(michelso, p, type)).toBeCloseTo(wanted[i]!, 3);
  });
});
