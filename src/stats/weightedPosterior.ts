/** A posterior held as weighted points, with mean, sd and quantiles. */
import { normalCdf } from '../numeric/normal.js';
import { normalCdfTable } from '../numeric/normalTables.js';

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

/** More than the error of `normalCdfTable`. */
const TABLE_MARGIN = 2e-10;

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
  const values = Float64Array.from(kept, (i) => points.values[i]!);
  const weights = Float64Array.from(kept, (i) => points.weights[i]!);
  return probabilities.map((p, k) => {
    const target = p * total;
    let low = plain[k]! - 8 * errorSd;
    let high = plain[k]! + 8 * errorSd;
    const about = (x: number) => sumOfTableCdf(values, weights, x, errorSd) - target;
    const [below, above] = sureBounds(about, low, high, TABLE_MARGIN * total);
    for (let step = 0; step < 36; step += 1) {
      const middle = 0.5 * (low + high);
      if (middle <= below) low = middle;
      else if (middle >= above) high = middle;
      else if (sumOfCdf(values, weights, middle, errorSd) < target) low = middle;
      else high = middle;
    }
    return 0.5 * (low + high);
  });
}

/**
 * Bounds up to which, and from which on, a rising function is negative and positive for sure, however much less than
 * `margin` its values are wrong; as near to each other as that allows, or the ends that are given.
 */
function sureBounds(
  f: (x: number) => number,
  low: number,
  high: number,
  margin: number,
): readonly [below: number, above: number] {
  let below = Number.NEGATIVE_INFINITY;
  let above = Number.POSITIVE_INFINITY;
  const at = (x: number): number => {
    const value = f(x);
    if (value < -margin) below = Math.max(below, x);
    if (value > margin) above = Math.min(above, x);
    return value;
  };
  // False position, halving the end that stays (the Illinois rule).
  let [a, b] = [low, high];
  let [fa, fb] = [at(a), at(b)];
  let stays = 0;
  for (let step = 0; step < 20 && fa < 0 && fb > 0; step += 1) {
    const slope = (fb - fa) / (b - a);
    const x = b - fb / slope;
    const fx = at(x);
    if (Math.abs(fx) <= margin) {
      // So near to its zero a rising function is as good as straight.
      const zero = x - fx / slope;
      at(zero - (1.2 * margin) / slope);
      at(zero + (1.2 * margin) / slope);
      break;
    }
    if (fx < 0) {
      [a, fa] = [x, fx];
      if (stays === 1) fb /= 2;
      stays = 1;
    } else {
      [b, fb] = [x, fx];
      if (stays === -1) fa /= 2;
      stays = -1;
    }
  }
  return [below, above];
}

function sumOfTableCdf(values: Float64Array, weights: Float64Array, x: number, errorSd: number): number {
  let sum = 0;
  for (let i = 0; i < values.length; i += 1) sum += weights[i]! * normalCdfTable((x - values[i]!) / errorSd);
  return sum;
}

function sumOfCdf(values: Float64Array, weights: Float64Array, x: number, errorSd: number): number {
  let sum = 0;
  for (let i = 0; i < values.length; i += 1) sum += weights[i]! * normalCdf((x - values[i]!) / errorSd);
  return sum;
}
