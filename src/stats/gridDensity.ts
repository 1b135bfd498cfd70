/** Distributions of one quantity as weights on a common lattice: shifted, blurred, multiplied and subtracted exactly. */
import { expected } from '../errors.js';
import { convolveWeights } from '../numeric/convolve.js';
import { normalPdf } from '../numeric/normal.js';
import { studentTPdf } from '../numeric/studentT.js';
import { type WeightedPoints, weightedMoments, weightedQuantiles } from './weightedPosterior.js';

/** Weights at the points (first + i) * step. They need not add to 1; `totalWeight` gives their sum. */
export interface GridDensity {
  /** Spacing of the lattice, in units of the quantity. */
  readonly step: number;
  /** Whole number of steps from zero to the first weight. */
  readonly first: number;
  readonly weights: Float64Array;
}

/** Tails below this share of the largest weight are cut: far below any probability that is reported. */
const NEGLIGIBLE = 1e-12;
/** Where a kernel is cut, in standard deviations. */
const KERNEL_REACH = 6.5;
/** Student tails are heavy: they are kept to this quantile of the scale. */
const STUDENT_REACH = 60;
/** Own grids of a posterior are hidden by a blur of this share of its sd; that makes intervals 1 % wider. */
const SMOOTHING = 0.15;

/** Sum of all weights. */
export function totalWeight(density: GridDensity): number {
  return density.weights.reduce((sum, w) => sum + w, 0);
}

/** Mean and standard deviation. */
export function densityMoments(density: GridDensity): { readonly mean: number; readonly sd: number } {
  const { step, first, weights } = density;
  const total = totalWeight(density);
  let mean = 0;
  for (let i = 0; i < weights.length; i += 1) mean += (weights[i]! * (first + i) * step) / total;
  let variance = 0;
  for (let i = 0; i < weights.length; i += 1) {
    variance += (weights[i]! * ((first + i) * step - mean) ** 2) / total;
  }
  return { mean, sd: Math.sqrt(variance) };
}

/** Quantiles; each weight is spread evenly to half way to its neighbours. */
export function densityQuantiles(density: GridDensity, probabilities: readonly number[]): number[] {
  const { step, first, weights } = density;
  const values = Array.from(weights, (_, i) => (first + i) * step);
  return weightedQuantiles({ values, weights: Array.from(weights) }, probabilities);
}

/** Probability of less than `x`, a weight at `x` itself counting in part. */
export function probabilityBelow(density: GridDensity, x: number): number {
  const { step, first, weights } = density;
  let below = 0;
  let total = 0;
  for (let i = 0; i < weights.length; i += 1) {
    const share = Math.min(1, Math.max(0, x / step - (first + i) + 0.5));
    below += weights[i]! * share;
    total += weights[i]!;
  }
  return below / total;
}

/**
 * Weighted points on the lattice, each shared between its two neighbours, then blurred a little so that the grids on
 * which a posterior was integrated do not show.
 */
export function densityOfPoints(points: WeightedPoints, step: number): GridDensity {
  checkStep(step);
  const { sd } = weightedMoments(points);
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const v of points.values) {
    low = Math.min(low, v);
    high = Math.max(high, v);
  }
  const first = Math.floor(low / step);
  const weights = new Float64Array(Math.ceil(high / step) - first + 2);
  for (let i = 0; i < points.values.length; i += 1) {
    const at = points.values[i]! / step - first;
    const k = Math.floor(at);
    weights[k]! += points.weights[i]! * (1 - (at - k));
    weights[k + 1]! += points.weights[i]! * (at - k);
  }
  return blurDensity(normalised({ step, first, weights }), SMOOTHING * sd);
}

/** A location known by a mean with its standard error: Student's t with the given degrees of freedom (Infinity: normal). */
export function studentDensity(
  mean: number,
  standardError: number,
  degreesOfFreedom: number,
  step: number,
): GridDensity {
  checkStep(step);
  const scale = Math.max(standardError, step / 4);
  const reach = Number.isFinite(degreesOfFreedom) && degreesOfFreedom < 30 ? STUDENT_REACH : 12;
  const first = Math.floor((mean - reach * scale) / step);
  const count = Math.ceil((mean + reach * scale) / step) - first + 1;
  const pdf = Number.isFinite(degreesOfFreedom) ? (t: number) => studentTPdf(t, degreesOfFreedom) : normalPdf;
  const weights = Float64Array.from({ length: count }, (_, i) => pdf(((first + i) * step - mean) / scale));
  return normalised({ step, first, weights });
}

/** The quantity plus an independent normal error of standard deviation `sd`. */
export function blurDensity(density: GridDensity, sd: number): GridDensity {
  const { step, first, weights } = density;
  // Narrower than a third of the lattice a sampled kernel is no normal; its variance is then spread over three points.
  if (!(sd > 1e-3 * step)) return density;
  let kernel: Float64Array;
  if (sd < step / 1.5) {
    const side = Math.min(1 / 3, (0.5 * sd * sd) / (step * step));
    kernel = Float64Array.of(side, 1 - 2 * side, side);
  } else {
    const reach = Math.ceil((KERNEL_REACH * sd) / step);
    kernel = Float64Array.from({ length: 2 * reach + 1 }, (_, i) => normalPdf(((i - reach) * step) / sd));
    const sum = kernel.reduce((a, b) => a + b, 0);
    kernel = kernel.map((k) => k / sum);
  }
  return trimmed({
    step,
    first: first - (kernel.length - 1) / 2,
    weights: convolveWeights(weights, kernel),
  });
}

/** Product of likelihoods of one quantity, on the lattice that they share; zero weights where they do not meet. */
export function multiplyDensities(densities: readonly GridDensity[]): GridDensity {
  const { step } = densities[0]!;
  const first = Math.max(...densities.map((d) => d.first));
  const last = Math.min(...densities.map((d) => d.first + d.weights.length - 1));
  if (last < first) return { step, first, weights: new Float64Array(1) };
  const weights = Float64Array.from({ length: last - first + 1 }, (_, i) =>
    densities.reduce((product, d) => product * d.weights[first - d.first + i]!, 1),
  );
  return { step, first, weights };
}

/** Distribution of x - y for independent x and y on one lattice. */
export function subtractDensities(x: GridDensity, y: GridDensity): GridDensity {
  const reversed = Float64Array.from(y.weights).reverse();
  return trimmed({
    step: x.step,
    first: x.first - (y.first + y.weights.length - 1),
    weights: convolveWeights(x.weights, reversed),
  });
}

/** Weighted sum of distributions on one lattice. */
export function mixDensities(
  parts: readonly { readonly density: GridDensity; readonly share: number }[],
): GridDensity {
  const { step } = parts[0]!.density;
  const first = Math.min(...parts.map((p) => p.density.first));
  const last = Math.max(...parts.map((p) => p.density.first + p.density.weights.length - 1));
  const weights = new Float64Array(last - first + 1);
  for (const { density, share } of parts) {
    const scale = share / totalWeight(density);
    for (let i = 0; i < density.weights.length; i += 1) {
      weights[density.first - first + i]! += scale * density.weights[i]!;
    }
  }
  return { step, first, weights };
}

/** The same with a sum of 1, without negligible tails. */
export function normalised(density: GridDensity): GridDensity {
  const cut = trimmed(density);
  const total = totalWeight(cut);
  if (!(total > 0)) throw expected('weights', 'a positive sum', total);
  return { ...cut, weights: cut.weights.map((w) => w / total) };
}

function trimmed(density: GridDensity): GridDensity {
  const { step, first, weights } = density;
  let largest = 0;
  for (const w of weights) largest = Math.max(largest, w);
  let from = 0;
  while (from < weights.length - 1 && weights[from]! <= NEGLIGIBLE * largest) from += 1;
  let to = weights.length;
  while (to > from + 1 && weights[to - 1]! <= NEGLIGIBLE * largest) to -= 1;
  return { step, first: first + from, weights: weights.slice(from, to) };
}

function checkStep(step: number): void {
  if (!(step > 0 && Number.isFinite(step))) throw expected('step', 'a positive number', step);
}
