import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { describe, lag1Autocorrelation } from '../../src/stats/describe.js';

// NIST Statistical Reference Datasets, Univariate Summary Statistics; certified to 15 digits.
interface Series {
  readonly n: number;
  readonly certified: { readonly mean: number; readonly sd: number; readonly lag1: number };
  readonly values: readonly number[];
}
const series: Record<string, Series> = JSON.parse(
  readFileSync(new URL('./data/nist-strd-univariate.json', import.meta.url), 'utf8'),
);

/** c + 0.2 once, then (c + 0.1, c + 0.3) 500 times: NumAcc2 to NumAcc4. */
const alternating = (c: number): number[] => [
  c + 0.2,
  ...Array.from({ length: 1000 }, (_, i) => c + (i % 2 ? 0.3 : 0.1)),
];

/** First 5000 decimals of pi after '3.' as NIST has them: with 3 for 8 at index 956 of the digit string. */
function nistPiDigits(): number[] {
  // Gibbons 2006 unbounded spigot, in bounded form: Machin's formula in big integers.
  const scale = 10n ** 5010n;
  const arctanInverse = (x: bigint): bigint => {
    let term = scale / x;
    let sum = term;
    for (let k = 3n, sign = -1n; term > 0n; k += 2n, sign = -sign) {
      term /= x * x;
      sum += (sign * term) / k;
    }
    return sum;
  };
  const pi = 4n * (4n * arctanInverse(5n) - arctanInverse(239n));
  const digits = Array.from(pi.toString().slice(0, 5000), Number);
  digits[956] = 3;
  return digits;
}

// Floors set by the doubles that hold c + 0.1 and c + 0.3, not by the algorithm (relative error of the sd).
const SD_FLOOR: Record<string, number> = { NumAcc3: 1e-8, NumAcc4: 1e-7 };

const cases: [string, readonly number[], { mean: number; sd: number; lag1: number }][] = [
  ...Object.entries(series)
    .filter(([, s]) => s.values !== undefined)
    .map(([name, s]): [string, readonly number[], Series['certified']] => [name, s.values, s.certified]),
  ['NumAcc1 (generated)', [10000001, 10000003, 10000002], { mean: 10000002, sd: 1, lag1: -0.5 }],
  ['NumAcc2', alternating(1), { mean: 1.2, sd: 0.1, lag1: -0.999 }],
  ['NumAcc3', alternating(1e6), { mean: 1000000.2, sd: 0.1, lag1: -0.999 }],
  ['NumAcc4', alternating(1e7), { mean: 10000000.2, sd: 0.1, lag1: -0.999 }],
  ['PiDigits', nistPiDigits(), { mean: 4.5348, sd: 2.86733906028871, lag1: -0.00355099287237972 }],
];

test.each(cases)('NIST StRD %s', (name, values, certified) => {
  const found = describe(values);
  expect(Math.abs(found.mean / certified.mean - 1)).toBeLessThan(1e-14);
  expect(Math.abs(found.sd! / certified.sd - 1)).toBeLessThan(SD_FLOOR[name] ?? 1e-13);
  const lag1Tolerance = SD_FLOOR[name] === undefined ? 1e-11 : 1e-7;
  expect(Math.abs(lag1Autocorrelation(values) / certified.lag1 - 1)).toBeLessThan(lag1Tolerance);
});

test('NIST StRD file holds the five measured series', () => {
  for (const name of ['Lew', 'Lottery', 'Mavro', 'Michelso'])
    expect(series[name]!.values.length).toBe(series[name]!.n);
});

test('NIST StRD medians and ranges', () => {
  // Same source: minimum, median, maximum as certified.
  const rows: [string, number, number, number][] = [
    ['Lew', -579, -162, 300],
    ['Lottery', 4, 522.5, 999],
    ['Mavro', 2.0013, 2.0018, 2.0027],
    ['Michelso', 299.62, 299.85, 300.07],
  ];
  for (const [name, minimum, median, maximum] of rows) {
    const found = describe(series[name]!.values);
    expect(found.minimum).toBeCloseTo(minimum, 9);
    expect(found.median).toBeCloseTo(median, 9);
    expect(found.maximum).toBeCloseTo(maximum, 9);
  }
});
