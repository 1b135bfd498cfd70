/** Equivalence: 'no added lag' as a claim that must be shown. */
import { expected } from '../errors.js';
import { studentTCdf, studentTQuantile } from '../numeric/studentT.js';
import { type MeanDifference, pairedDifference, welch } from './welch.js';

/** Two one-sided tests of |difference| < margin. */
export interface Equivalence {
  readonly difference: number;
  readonly margin: number;
  /** p value against 'difference is at or below -margin'. */
  readonly pAboveLower: number;
  /** p value against 'difference is at or above margin'. */
  readonly pBelowUpper: number;
  /** The larger of the two; it decides. */
  readonly p: number;
  /** Interval of confidence 1 - 2 alpha: equivalent if and only if it lies inside (-margin, margin). */
  readonly interval: readonly [number, number];
  readonly equivalent: boolean;
}

/**
 * Two one-sided t tests (Schuirmann, J. Pharmacokin. Biopharm. 15 (1987) 657-680).
 * @param found a difference with standard error and degrees of freedom, for example of `welch`
 * @param margin largest difference that counts as none, in units of the difference, positive
 * @param alpha size of each test
 */
export function equivalence(
  found: Pick<MeanDifference, 'difference' | 'standardError' | 'degreesOfFreedom'>,
  margin: number,
  alpha = 0.05,
): Equivalence {
  if (!(margin > 0)) throw expected('margin', 'a positive number', margin);
  if (!(alpha > 0 && alpha < 0.5)) throw expected('alpha', 'between 0 and 0.5', alpha);
  const { difference, standardError, degreesOfFreedom } = found;
  // With no spread at all the limit of t is what counts.
  const tail = (gap: number): number =>
    standardError > 0 ? studentTCdf(-gap / standardError, degreesOfFreedom) : gap > 0 ? 0 : 1;
  const pAboveLower = tail(difference + margin);
  const pBelowUpper = tail(margin - difference);
  const p = Math.max(pAboveLower, pBelowUpper);
  const halfWidth = studentTQuantile(1 - alpha, degreesOfFreedom) * standardError;
  return {
    difference,
    margin,
    pAboveLower,
    pBelowUpper,
    p,
    interval: [difference - halfWidth, difference + halfWidth],
    equivalent: p < alpha,
  };
}

/** `equivalence` of two independent samples, Welch's standard error. */
export function equivalenceOfMeans(
  x: ArrayLike<number>,
  y: ArrayLike<number>,
  margin: number,
  alpha = 0.05,
): Equivalence {
  return equivalence(welch(x, y), margin, alpha);
}

/** `equivalence` of pairs x[i], y[i]. */
export function equivalenceOfPairs(
  x: ArrayLike<number>,
  y: ArrayLike<number>,
  margin: number,
  alpha = 0.05,
): Equivalence {
  return equivalence(pairedDifference(x, y), margin, alpha);
}
