/** Spread beyond what the measurement explains. */
import { expected } from '../errors.js';
import { chiSquareCdf, chiSquareQuantile } from '../numeric/chiSquare.js';
import { sampleVariance } from './describe.js';
import { checkSample } from './sample.js';

/** Spread of differences against their known measurement uncertainty. */
export interface ExcessVariance {
  readonly n: number;
  /** (n - 1) s^2 / u^2. */
  readonly chiSquare: number;
  /** Probability of at least this much spread from measurement alone. */
  readonly p: number;
  /** Best estimate of the excess standard deviation, 0 where s is below u. */
  readonly excessSd: number;
  /** Confidence interval of the excess standard deviation, floored at 0. */
  readonly excessSdInterval: readonly [number, number];
}

/** `excessVariance` from n and the sample standard deviation. */
export function excessVarianceFromSd(
  n: number,
  sd: number,
  measurementSd: number,
  confidence = 0.95,
): ExcessVariance {
  if (!(Number.isInteger(n) && n >= 2)) throw expected('n', 'a whole number of at least 2', n);
  if (!(measurementSd > 0)) throw expected('measurementSd', 'a positive number', measurementSd);
  const freedom = n - 1;
  const squares = freedom * sd * sd;
  const u2 = measurementSd * measurementSd;
  const excess = (divisor: number): number => Math.sqrt(Math.max(0, squares / divisor - u2));
  const tail = (1 - confidence) / 2;
  return {
    n,
    chiSquare: squares / u2,
    p: 1 - chiSquareCdf(squares / u2, freedom),
    excessSd: excess(freedom),
    excessSdInterval: [
      excess(chiSquareQuantile(1 - tail, freedom)),
      excess(chiSquareQuantile(tail, freedom)),
    ],
  };
}

/**
 * Jitter of paired differences: their variance less the known measurement variance, with the chi-square interval of a
 * normal sample. A lag is shown fixed when the upper bound is below a stated limit, not when p is large.
 * Not for unpaired latencies: a uniform wait has thin tails, for which this interval is too wide (use the wait model).
 * @param differences at least two
 * @param measurementSd standard uncertainty of one difference, positive
 */
export function excessVariance(
  differences: ArrayLike<number>,
  measurementSd: number,
  confidence = 0.95,
): ExcessVariance {
  checkSample('differences', differences, 2);
  return excessVarianceFromSd(
    differences.length,
    Math.sqrt(sampleVariance(differences)),
    measurementSd,
    confidence,
  );
}
