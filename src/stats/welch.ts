/** Difference of two means: Welch's unequal variances, or paired. */
import { expected } from '../errors.js';
import { studentTQuantile, studentTTwoSidedP } from '../numeric/studentT.js';
import { mean, sampleVariance } from './describe.js';
import { checkSample } from './sample.js';

/** A difference of means with its t statistic. */
export interface MeanDifference {
  /** Mean of x minus mean of y. */
  readonly difference: number;
  readonly standardError: number;
  readonly degreesOfFreedom: number;
  readonly t: number;
  /** Two-sided. */
  readonly p: number;
  /** Confidence interval of the difference. */
  readonly interval: readonly [number, number];
}

/** n, mean and sample variance of one group. */
export interface GroupMoments {
  readonly n: number;
  readonly mean: number;
  readonly variance: number;
}

/**
 * Welch's difference of means from the moments of two groups (B. L. Welch, Biometrika 34 (1947) 28-35, with
 * Satterthwaite's degrees of freedom).
 */
export function welchFromMoments(x: GroupMoments, y: GroupMoments, confidence = 0.95): MeanDifference {
  const vx = x.variance / x.n;
  const vy = y.variance / y.n;
  const sum = vx + vy;
  const degreesOfFreedom = sum > 0 ? sum ** 2 / (vx ** 2 / (x.n - 1) + vy ** 2 / (y.n - 1)) : x.n + y.n - 2;
  return meanDifference(x.mean - y.mean, Math.sqrt(sum), degreesOfFreedom, confidence);
}

/** Welch's difference of means of two samples of at least two values. */
export function welch(x: ArrayLike<number>, y: ArrayLike<number>, confidence = 0.95): MeanDifference {
  checkSample('x', x, 2);
  checkSample('y', y, 2);
  return welchFromMoments(
    { n: x.length, mean: mean(x), variance: sampleVariance(x) },
    { n: y.length, mean: mean(y), variance: sampleVariance(y) },
    confidence,
  );
}

/** Mean of the differences x[i] - y[i], at least two pairs. */
export function pairedDifference(
  x: ArrayLike<number>,
  y: ArrayLike<number>,
  confidence = 0.95,
): MeanDifference {
  checkSample('x', x, 2);
  checkSample('y', y, 2);
  if (x.length !== y.length) throw expected('y', `as long as x (${x.length})`, y.length);
  const d = Float64Array.from({ length: x.length }, (_, i) => x[i]! - y[i]!);
  return meanDifference(mean(d), Math.sqrt(sampleVariance(d) / d.length), d.length - 1, confidence);
}

/** Puts t, p and interval to a difference with known standard error. */
export function meanDifference(
  difference: number,
  standardError: number,
  degreesOfFreedom: number,
  confidence = 0.95,
): MeanDifference {
  if (!(confidence > 0 && confidence < 1)) throw expected('confidence', 'between 0 and 1', confidence);
  const t = difference === 0 ? 0 : difference / standardError;
  const halfWidth = studentTQuantile(0.5 + confidence / 2, degreesOfFreedom) * standardError;
  return {
    difference,
    standardError,
    degreesOfFreedom,
    t,
    p: studentTTwoSidedP(t, degreesOfFreedom),
    interval: [difference - halfWidth, difference + halfWidth],
  };
}
