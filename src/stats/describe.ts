/** Number, extremes, mean and spread of a sample. */
import { extent, mean as sampleMean, sampleVariance as varianceOfSample } from 'simple-statistics';
import { median } from './quantile.js';
import { checkSample } from './sample.js';

/** The plain description of a sample, in units of the values. */
export interface Description {
  readonly n: number;
  readonly minimum: number;
  readonly maximum: number;
  readonly mean: number;
  readonly median: number;
  /** Sample standard deviation (n - 1); null for n = 1. */
  readonly sd: number | null;
}

/** Arithmetic mean (simple-statistics: compensated sum). At least one value. */
export function mean(values: ArrayLike<number>): number {
  checkSample('values', values, 1);
  return sampleMean(Array.from(values));
}

/**
 * Sample variance (n - 1), two passes (simple-statistics; NIST StRD in tests/published holds it to 1e-8 relative).
 * @param values at least two
 */
export function sampleVariance(values: ArrayLike<number>): number {
  checkSample('values', values, 2);
  return varianceOfSample(Array.from(values));
}

/** Sample standard deviation (n - 1). At least two values. */
export function sampleSd(values: ArrayLike<number>): number {
  return Math.sqrt(sampleVariance(values));
}

/** Describes a sample of at least one finite value. */
export function describe(values: ArrayLike<number>): Description {
  checkSample('values', values, 1);
  const n = values.length;
  const [minimum, maximum] = extent(Array.from(values));
  return {
    n,
    minimum,
    maximum,
    mean: mean(values),
    median: median(values),
    sd: n > 1 ? sampleSd(values) : null,
  };
}

/**
 * Lag-1 autocorrelation, sum (y_i - m)(y_(i-1) - m) / sum (y_i - m)^2 (NIST StRD definition). Beyond 2 / sqrt(n) in
 * size the values are not independent and the usual intervals are too narrow.
 * @returns 0 for constant values
 */
export function lag1Autocorrelation(values: ArrayLike<number>): number {
  checkSample('values', values, 2);
  const centre = mean(values);
  let top = 0;
  let bottom = (values[0]! - centre) ** 2;
  for (let i = 1; i < values.length; i += 1) {
    top += (values[i]! - centre) * (values[i - 1]! - centre);
    bottom += (values[i]! - centre) ** 2;
  }
  return bottom > 0 ? top / bottom : 0;
}
