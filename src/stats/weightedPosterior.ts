/** A posterior held as weighted points, with mean, sd and quantiles. */
import { normalCdf } from '../numeric/normal.js';

/** Points and their weights (any positive scale). */
export interface WeightedPoints {
  readonly values: readonly number[];
  readonly weights: readonly number[];
}

/** Weighted mean and standard deviation. */
export function weightedMoments(points: WeightedPoints): { readonly mean: number; readonly sd: number } {
  let total = 0;
  let mean = 0;
  let squares = 0;
  for (let i = 0; i < points.values.length; i += 1) {
    const w = points.weights[i]!;
    if (!(w > 0)) continue;
    total += w;
    const step = points.values[i]! - mean;
    mean += (w / total) * step;
    squares += w * step * (points.values[i]! - mean);
  }
  return { mean, sd: Math.sqrt(squares / total) };
}

/**
 * Quantiles of weighted points: each point's weight is spread to half way to its neighbours, so that a fine grid gives
 * a continuous answer.
 * @param probabilities each 0..1
 */
export function weightedQuantiles(points: WeightedPoints, probabilities: readonly number[]): number[] {
  const order = Array.from(points.values.keys())
    .filter((i) => points.weights[i]! > 0)
    .sort((a, b) => points.values[a]! - points.values[b]!);
  const middles: number[] = [];
  const at: number[] = [];
  let total = 0;
  for (const i of order) {
    const w = points.weights[i]!;
    middles.push(total + w / 2);
    at.push(points.values[i]!);
    total += w;
  }
  return probabilities.map((p) => {
    const target = p * total;
    let low = 0;
    let high = middles.length - 1;
    if (target <= middles[0]!) return at[0]!;
    if (target >= middles[high]!) return at[high]!;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (middles[middle]! <= target) low = middle;
      else high = middle;
    }
    const share = (target - middles[low]!) / (middles[high]! - middles[low]!);
    return at[low]! + share * (at[high]! - at[low]!);
  });
}

/**
 * Quantiles after an independent normal error is added to every point (an uncertainty that all data share).
 * @param errorSd standard deviation of the error, in units of the values; 0 gives `weightedQuantiles`
 */
export function blurredQuantiles(
  points: WeightedPoints,
  errorSd: number,
  probabilities: readonly number[],
): number[] {
  const plain = weightedQuantiles(points, probabilities);
  const { sd } = weightedMoments(points);
  // Below a thousandth of the posterior's own spread the blur is invisible and its steps would show the grid.
  if (!(errorSd > 1e-3 * sd)) return plain;
  const total = points.weights.reduce((sum, w) => sum + w, 0);
  const heaviest = Math.max(...points.weights);
  const kept = Array.from(points.values.keys()).filter((i) => points.weights[i]! > 1e-9 * heaviest);
  return probabilities.map((p, k) => {
    let low = plain[k]! - 8 * errorSd;
    let high = plain[k]! + 8 * errorSd;
    for (let step = 0; step < 36; step += 1) {
      const middle = 0.5 * (low + high);
      let below = 0;
      for (const i of kept) below += points.weights[i]! * normalCdf((middle - points.values[i]!) / errorSd);
      if (below < p * total) low = middle;
      else high = middle;
    }
    return 0.5 * (low + high);
  });
}
