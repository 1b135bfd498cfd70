/** Shift between two samples, or of pairs, that one wild value cannot move. */
import { expected } from '../errors.js';
import { normalQuantile } from '../numeric/normal.js';
import { quantileOfSorted } from './quantile.js';
import { lowerTail, mannWhitneyDistribution, midRanks, signedRankDistribution } from './ranks.js';
import { checkSample } from './sample.js';

/** A shift with a distribution-free interval. */
export interface Shift {
  /** Median of all differences x[i] - y[j] (or of all pairwise means of paired differences). */
  readonly shift: number;
  readonly interval: readonly [number, number];
  /** Confidence that the interval has: exact without ties, nominal for the normal form. */
  readonly confidence: number;
  readonly method: 'exact' | 'normal';
}

const EXACT_BELOW = 50;

/**
 * Hodges-Lehmann shift of x against y, with the interval that inverts the rank test (Hollander & Wolfe 1973 ch. 4;
 * exact without ties and below 50 values a group, tie-corrected normal otherwise). For very small groups even the
 * widest interval has less than the wanted confidence: see `confidence`.
 */
export function hodgesLehmann(x: ArrayLike<number>, y: ArrayLike<number>, confidence = 0.95): Shift {
  checkSample('x', x, 1);
  checkSample('y', y, 1);
  const m = x.length;
  const n = y.length;
  const differences = new Float64Array(m * n);
  for (let i = 0; i < m; i += 1) for (let j = 0; j < n; j += 1) differences[i * n + j] = x[i]! - y[j]!;
  differences.sort();
  const { tieSum } = midRanks([...Array.from(x), ...Array.from(y)]);
  const exact = tieSum === 0 && m < EXACT_BELOW && n < EXACT_BELOW;
  const total = m + n;
  const variance = ((m * n) / 12) * (total + 1 - tieSum / (total * (total - 1)));
  return between(differences, exact ? mannWhitneyDistribution(m, n) : null, variance, confidence);
}

/**
 * Hodges-Lehmann pseudomedian of x[i] - y[i] with the interval that inverts the signed-rank test (exact below 50
 * pairs without ties or zeros).
 */
export function hodgesLehmannPaired(x: ArrayLike<number>, y: ArrayLike<number>, confidence = 0.95): Shift {
  checkSample('x', x, 1);
  checkSample('y', y, 1);
  if (x.length !== y.length) throw expected('y', `as long as x (${x.length})`, y.length);
  const n = x.length;
  const d = Float64Array.from({ length: n }, (_, i) => x[i]! - y[i]!);
  const means = new Float64Array((n * (n + 1)) / 2);
  let k = 0;
  for (let i = 0; i < n; i += 1) {
    for (let j = i; j < n; j += 1) {
      means[k] = 0.5 * (d[i]! + d[j]!);
      k += 1;
    }
  }
  means.sort();
  const { tieSum } = midRanks(d.map(Math.abs));
  const exact = tieSum === 0 && n < EXACT_BELOW && !d.includes(0);
  const variance = (n * (n + 1) * (2 * n + 1)) / 24 - tieSum / 48;
  return between(means, exact ? signedRankDistribution(n) : null, variance, confidence);
}

/** Order statistics of the sorted differences at the rank that leaves (1 - confidence) / 2 on each side. */
function between(
  sorted: Float64Array,
  distribution: Float64Array | null,
  variance: number,
  confidence: number,
): Shift {
  if (!(confidence > 0 && confidence < 1)) throw expected('confidence', 'between 0 and 1', confidence);
  const tail = (1 - confidence) / 2;
  const count = sorted.length;
  let rank: number;
  if (distribution === null) {
    rank = Math.round(count / 2 + normalQuantile(tail) * Math.sqrt(variance));
  } else {
    rank = 0;
    while (lowerTail(distribution, rank + 1) <= tail) rank += 1;
  }
  rank = Math.min(Math.max(1, rank), Math.ceil(count / 2));
  return {
    shift: quantileOfSorted(sorted, 0.5),
    interval: [sorted[rank - 1]!, sorted[count - rank]!],
    confidence: distribution === null ? confidence : 1 - 2 * lowerTail(distribution, rank),
    method: distribution === null ? 'normal' : 'exact',
  };
}
