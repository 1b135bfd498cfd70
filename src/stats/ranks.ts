/** Ranks, and the exact null distributions of rank statistics. */

/** Mid-ranks from 1, and the sum of t^3 - t over groups of t equal values. */
export function midRanks(values: ArrayLike<number>): {
  readonly ranks: Float64Array;
  readonly tieSum: number;
} {
  const n = values.length;
  const order = Array.from({ length: n }, (_, i) => i).sort((a, b) => values[a]! - values[b]!);
  const ranks = new Float64Array(n);
  let tieSum = 0;
  for (let start = 0; start < n; ) {
    let end = start + 1;
    while (end < n && values[order[end]!] === values[order[start]!]) end += 1;
    for (let k = start; k < end; k += 1) ranks[order[k]!] = (start + 1 + end) / 2;
    const t = end - start;
    tieSum += t ** 3 - t;
    start = end;
  }
  return { ranks, tieSum };
}

/**
 * P(U = u), u = 0 .. m n, of the Mann-Whitney statistic without ties, by the coefficients of the Gaussian binomial
 * (product of (1 - q^(n+k)) / (1 - q^k)). Cost m * (m n).
 */
export function mannWhitneyDistribution(m: number, n: number): Float64Array {
  const size = m * n + 1;
  const p = new Float64Array(size);
  p[0] = 1;
  for (let k = 1; k <= m; k += 1) {
    for (let u = size - 1; u >= n + k; u -= 1) p[u]! -= p[u - n - k]!;
    for (let u = k; u < size; u += 1) p[u]! += p[u - k]!;
    // Dividing by (n + k) / k each round keeps the numbers near 1 and makes them probabilities at the end.
    for (let u = 0; u < size; u += 1) p[u]! *= k / (n + k);
  }
  return p;
}

/** P(V = v), v = 0 .. n(n+1)/2, of the signed-rank statistic without ties or zeros. */
export function signedRankDistribution(n: number): Float64Array {
  const p = new Float64Array((n * (n + 1)) / 2 + 1);
  p[0] = 1;
  for (let k = 1; k <= n; k += 1) {
    for (let v = p.length - 1; v >= 0; v -= 1) p[v] = 0.5 * (p[v]! + (v >= k ? p[v - k]! : 0));
  }
  return p;
}

/** Sum of the first `count` entries. */
export function lowerTail(distribution: Float64Array, count: number): number {
  let sum = 0;
  for (let i = 0; i < Math.min(count, distribution.length); i += 1) sum += distribution[i]!;
  return Math.min(1, sum);
}
