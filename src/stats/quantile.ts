/** Sample quantiles with their definition named. */
import { expected } from '../errors.js';
import { checkSample } from './sample.js';

/** Definition after Hyndman & Fan: 6 = p(n+1), 7 = spreadsheets and R's default, 8 = median-unbiased. */
export type QuantileType = 6 | 7 | 8;

/** (a, b) of the plotting position (k - a) / (n + 1 - a - b). */
const POSITIONS = { 6: [0, 0], 7: [1, 1], 8: [1 / 3, 1 / 3] } as const;

/**
 * Sample quantile (Hyndman & Fan, Am. Stat. 50 (1996) 361-365). Type 8 is the default: about median-unbiased for any
 * distribution, the one that Hyndman and Fan advise.
 * @param values at least one finite number, any order; not changed
 * @param p 0..1
 * @returns for p beyond the outer plotting positions, the extreme itself
 */
export function quantile(values: ArrayLike<number>, p: number, type: QuantileType = 8): number {
  checkSample('values', values, 1);
  return quantileOfSorted(Float64Array.from(values).sort(), p, type);
}

/** `quantile` of values that are sorted already, without the copy and the checks of the values. */
export function quantileOfSorted(sorted: ArrayLike<number>, p: number, type: QuantileType = 8): number {
  if (!(p >= 0 && p <= 1)) throw expected('p', 'from 0 to 1', p);
  const n = sorted.length;
  const [a, b] = POSITIONS[type];
  const h = n * p + a + p * (1 - a - b);
  // n p + m can fall a rounding error short of the whole number that it should be.
  const fuzz = 4 * Number.EPSILON * Math.max(1, h);
  const j = Math.floor(h + fuzz);
  const share = h - j < fuzz ? 0 : h - j;
  const low = sorted[Math.min(n - 1, Math.max(0, j - 1))]!;
  const high = sorted[Math.min(n - 1, Math.max(0, j))]!;
  return low + share * (high - low);
}

/** Median (all types agree). */
export function median(values: ArrayLike<number>): number {
  return quantile(values, 0.5);
}
