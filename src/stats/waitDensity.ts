/** Log densities, up to a constant, of one latency under each picture of where its spread comes from; all finite far in the tails. */
import { normalLogCdf, normalLogInterval, normalLogPdf } from '../numeric/normal.js';
import { normalCdfTable, normalIntegralTable, normalLogCdfTable } from '../numeric/normalTables.js';

/** Where the two edges lie this many sigma apart, only the nearer one is felt (error below 1e-9). */
const EDGES_APART = 12;
/** Differences of table values below this are computed anew, in logarithms. */
const TABLE_FLOOR = 1e-4;
/** Above this many sigma from the foot, the trapezoid is far larger than the error of the tables. */
const TABLE_ABOVE = -2.5;

/**
 * ln(period * f) of delay + U(0, period) + N(0, sigma^2), at `x` = latency - delay:
 * period * f = Phi(x / sigma) - Phi((x - period) / sigma). The constant is left to the caller, as it costs a logarithm.
 * @param x ms
 * @param sigma ms, positive
 * @param period ms, positive
 */
export function logWaitShape(x: number, sigma: number, period: number): number {
  if (period > EDGES_APART * sigma) return normalLogCdfTable(Math.min(x, period - x) / sigma);
  const high = x / sigma;
  const low = (x - period) / sigma;
  const difference = normalCdfTable(high) - normalCdfTable(low);
  return difference > TABLE_FLOOR ? Math.log(difference) : normalLogInterval(low, high);
}

/** The same without the logarithm, where an absolute error of 1e-10 is good enough. */
export function waitShape(x: number, sigma: number, period: number): number {
  return Math.max(0, normalCdfTable(x / sigma) - normalCdfTable((x - period) / sigma));
}

/**
 * ln(period * width * f) of delay + U(0, period) + U(0, width) + N(0, sigma^2), at `x` = latency - delay: a trapezoid
 * with soft edges.
 * @param x ms
 * @param sigma ms, positive
 * @param period ms, positive
 * @param width ms, positive
 */
export function logTwoWaitsShape(x: number, sigma: number, period: number, width: number): number {
  // The density is symmetric about the middle; in its lower half no large numbers cancel.
  const z = Math.min(x, period + width - x) / sigma;
  const w = width / sigma;
  const p = period / sigma;
  if (z > TABLE_ABOVE) {
    const sum =
      normalIntegralTable(z) -
      normalIntegralTable(z - w) -
      normalIntegralTable(z - p) +
      normalIntegralTable(z - p - w);
    return Math.log(sigma * sum);
  }
  const first = logNormalIntegral(z);
  const others =
    Math.exp(logNormalIntegral(z - p - w) - first) -
    Math.exp(logNormalIntegral(z - w) - first) -
    Math.exp(logNormalIntegral(z - p) - first);
  return first + Math.log1p(others) + Math.log(sigma);
}

/** ln of the integral of Phi up to z, for z < 0: phi(z) (1 + z Phi(z) / phi(z)). */
function logNormalIntegral(z: number): number {
  const logPdf = normalLogPdf(z);
  // Mills' ratio: 1 + z Phi / phi = 1/z^2 - 3/z^4 + ..., where the plain form would cancel.
  if (z < -50) return logPdf - 2 * Math.log(-z) + Math.log1p(-3 / (z * z));
  return logPdf + Math.log1p(z * Math.exp(normalLogCdf(z) - logPdf));
}
