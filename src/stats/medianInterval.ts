/** Distribution-free intervals from order statistics. */
import { expected } from '../errors.js';
import { binomialCdf } from '../numeric/binomial.js';
import { checkSample } from './sample.js';

/** An interval between two order statistics. */
export interface OrderInterval {
  readonly low: number;
  readonly high: number;
  /** Ranks from 1. */
  readonly ranks: readonly [low: number, high: number];
  /** Confidence that the interval really has; at least the one asked for. */
  readonly confidence: number;
}

/**
 * Interval of the median for any continuous distribution: the narrowest symmetric pair of order statistics whose
 * binomial coverage B(n-l; n, 1/2) - B(l-1; n, 1/2) reaches the wanted confidence (Hahn & Meeker 1991 ch. 5).
 * @returns null where even [minimum, maximum] does not reach it (95 %: n below 6)
 */
export function medianInterval(values: ArrayLike<number>, confidence = 0.95): OrderInterval | null {
  checkSample('values', values, 1);
  if (!(confidence > 0 && confidence < 1)) throw expected('confidence', 'between 0 and 1', confidence);
  const n = values.length;
  let rank = 0;
  for (let l = 1; 2 * l <= n && 1 - 2 * binomialCdf(l - 1, n, 0.5) >= confidence; l += 1) rank = l;
  if (rank === 0) return null;
  const sorted = Float64Array.from(values).sort();
  return {
    low: sorted[rank - 1]!,
    high: sorted[n - rank]!,
    ranks: [rank, n + 1 - rank],
    confidence: 1 - 2 * binomialCdf(rank - 1, n, 0.5),
  };
}

/** One-sided or two-sided ranks for any quantile; a side that this n cannot bound is null. */
export interface QuantileRanks {
  readonly low: number | null;
  readonly high: number | null;
  /** Probability that the bounds that exist hold the quantile. */
  readonly confidence: number;
}

/**
 * Equal-tailed ranks (from 1) of order statistics that bound the p-quantile: each side alone errs with at most half of
 * 1 - confidence. A side is null where no order statistic is far enough out: 'not bounded with this n'.
 */
export function quantileRanks(n: number, p: number, confidence = 0.95): QuantileRanks {
  if (!(Number.isInteger(n) && n >= 1)) throw expected('n', 'a whole number of at least 1', n);
  if (!(p > 0 && p < 1)) throw expected('p', 'between 0 and 1', p);
  const tail = (1 - confidence) / 2;
  // x(l) > quantile has probability B(l-1), x(u) < quantile has probability 1 - B(u-1).
  let low: number | null = null;
  for (let l = 1; l <= n && binomialCdf(l - 1, n, p) <= tail; l += 1) low = l;
  let high: number | null = null;
  for (let u = n; u >= 1 && 1 - binomialCdf(u - 1, n, p) <= tail; u -= 1) high = u;
  const missedBelow = low === null ? 0 : binomialCdf(low - 1, n, p);
  const missedAbove = high === null ? 0 : 1 - binomialCdf(high - 1, n, p);
  return { low, high, confidence: 1 - missedBelow - missedAbove };
}
