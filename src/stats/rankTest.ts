/** Mann-Whitney: do values of one group tend to be larger? */
import { normalCdf } from '../numeric/normal.js';
import { lowerTail, mannWhitneyDistribution, midRanks } from './ranks.js';
import { checkSample } from './sample.js';

/** A rank test of two independent samples. */
export interface RankTest {
  /** Number of pairs with x > y, ties counting half. */
  readonly u: number;
  /** P(X > Y) + P(X = Y) / 2, estimated: 0.5 where neither tends to be larger. */
  readonly relativeEffect: number;
  /** Two-sided. */
  readonly p: number;
  /** `exact` without ties and with both groups below 50, else the tie-corrected normal with continuity correction. */
  readonly method: 'exact' | 'normal';
}

const EXACT_BELOW = 50;

/**
 * Mann-Whitney (Wilcoxon rank-sum) test, both groups of at least one value. The normal form uses the tie-corrected
 * variance m n / 12 (N + 1 - sum(t^3 - t) / (N (N - 1))) and a continuity correction of 1/2 (Hollander & Wolfe 1973).
 */
export function rankTest(x: ArrayLike<number>, y: ArrayLike<number>): RankTest {
  checkSample('x', x, 1);
  checkSample('y', y, 1);
  const m = x.length;
  const n = y.length;
  const { ranks, tieSum } = midRanks([...Array.from(x), ...Array.from(y)]);
  let rankSum = 0;
  for (let i = 0; i < m; i += 1) rankSum += ranks[i]!;
  const u = rankSum - (m * (m + 1)) / 2;
  const relativeEffect = u / (m * n);
  if (tieSum === 0 && m < EXACT_BELOW && n < EXACT_BELOW) {
    const distribution = mannWhitneyDistribution(m, n);
    const smaller = Math.round(Math.min(u, m * n - u));
    return { u, relativeEffect, p: Math.min(1, 2 * lowerTail(distribution, smaller + 1)), method: 'exact' };
  }
  const total = m + n;
  const variance = ((m * n) / 12) * (total + 1 - tieSum / (total * (total - 1)));
  const distance = Math.max(0, Math.abs(u - (m * n) / 2) - 0.5);
  const p = variance > 0 ? Math.min(1, 2 * normalCdf(-distance / Math.sqrt(variance))) : 1;
  return { u, relativeEffect, p, method: 'normal' };
}
