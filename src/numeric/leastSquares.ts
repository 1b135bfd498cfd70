/** Weighted straight line with its covariance. */
import { expected } from '../errors.js';

/** y = intercept + slope * (x - origin), with standard uncertainties. */
export interface LineFit {
  /** Value at `origin`, in units of y. */
  readonly intercept: number;
  /** Units of y per unit of x. */
  readonly slope: number;
  /** The x at which the intercept is taken. */
  readonly origin: number;
  readonly interceptUncertainty: number;
  readonly slopeUncertainty: number;
  /** Covariance of intercept and slope. */
  readonly covariance: number;
  /** Root of (weighted) residual sum / degrees of freedom; 0 when there are no degrees of freedom. */
  readonly residualSd: number;
  /** n - 2. */
  readonly degreesOfFreedom: number;
}

/** How a line is fitted. */
export interface LineOptions {
  /** The x at which the intercept is wanted, default 0. */
  readonly origin?: number;
  /** Known standard deviation of each y. Uncertainties then follow from these, not from the residuals. */
  readonly sds?: ArrayLike<number>;
}

/**
 * Least-squares straight line (JCGM 100:2008 H.3 for the formulas and the covariance). Centred, so that times of
 * large offset lose no digits.
 * @param x at least two different values
 * @param y same length
 */
export function fitLine(x: ArrayLike<number>, y: ArrayLike<number>, options: LineOptions = {}): LineFit {
  const n = x.length;
  if (n < 2) throw expected('x', 'at least two points', n);
  if (y.length !== n) throw expected('y', `as long as x (${n})`, y.length);
  const { origin = 0, sds } = options;
  const weight = (i: number): number => (sds === undefined ? 1 : 1 / (sds[i]! * sds[i]!));
  let sumW = 0;
  let meanX = 0;
  let meanY = 0;
  for (let i = 0; i < n; i += 1) {
    const w = weight(i);
    sumW += w;
    meanX += (w / sumW) * (x[i]! - meanX);
    meanY += (w / sumW) * (y[i]! - meanY);
  }
  let sxx = 0;
  let sxy = 0;
  for (let i = 0; i < n; i += 1) {
    const w = weight(i);
    sxx += w * (x[i]! - meanX) ** 2;
    sxy += w * (x[i]! - meanX) * (y[i]! - meanY);
  }
  if (!(sxx > 0)) throw expected('x', 'at least two different finite values', x[0]);
  const slope = sxy / sxx;
  let rss = 0;
  for (let i = 0; i < n; i += 1) {
    rss += weight(i) * (y[i]! - meanY - slope * (x[i]! - meanX)) ** 2;
  }
  const degreesOfFreedom = n - 2;
  const residualVariance = degreesOfFreedom > 0 ? rss / degreesOfFreedom : 0;
  const scale = sds === undefined ? residualVariance : 1;
  const lever = origin - meanX;
  return {
    intercept: meanY + slope * lever,
    slope,
    origin,
    interceptUncertainty: Math.sqrt(scale * (1 / sumW + (lever * lever) / sxx)),
    slopeUncertainty: Math.sqrt(scale / sxx),
    covariance: (scale * lever) / sxx,
    residualSd: Math.sqrt(residualVariance),
    degreesOfFreedom,
  };
}

/** Value of a fitted line at x and its standard uncertainty. */
export function lineAt(fit: LineFit, x: number): { readonly value: number; readonly uncertainty: number } {
  const d = x - fit.origin;
  const variance = fit.interceptUncertainty ** 2 + d * d * fit.slopeUncertainty ** 2 + 2 * d * fit.covariance;
  return { value: fit.intercept + fit.slope * d, uncertainty: Math.sqrt(Math.max(0, variance)) };
}
