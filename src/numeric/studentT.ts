/** Student's t distribution, thin over jstat; degrees of freedom may be any positive number. */
import jstat from 'jstat';
import { expected } from '../errors.js';
import { incompleteBeta } from './incompleteBeta.js';
import { normalCdf, normalQuantile } from './normal.js';

/** Beyond this many degrees of freedom t and normal differ by less than 1e-9. */
const NORMAL_ABOVE = 1e8;

function checkFreedom(degreesOfFreedom: number): void {
  if (!(degreesOfFreedom > 0)) throw expected('degreesOfFreedom', 'a positive number', degreesOfFreedom);
}

/** P(T <= t). Relative precision about 1e-12 in the lower tail. */
export function studentTCdf(t: number, degreesOfFreedom: number): number {
  checkFreedom(degreesOfFreedom);
  if (Number.isNaN(t)) return Number.NaN;
  if (!Number.isFinite(t)) return t > 0 ? 1 : 0;
  if (degreesOfFreedom > NORMAL_ABOVE) return normalCdf(t);
  // P(T <= -|t|) = I_x(v/2, 1/2) / 2 with x = v / (v + t^2): no cancellation, unlike 1 - cdf.
  const sum = degreesOfFreedom + t * t;
  const tail = 0.5 * incompleteBeta(degreesOfFreedom / sum, degreesOfFreedom / 2, 0.5, (t * t) / sum);
  return t > 0 ? 1 - tail : tail;
}

/** Density of the t distribution. */
export function studentTPdf(t: number, degreesOfFreedom: number): number {
  checkFreedom(degreesOfFreedom);
  const { gammaln } = jstat.jStat;
  const v = degreesOfFreedom;
  const logConstant = gammaln((v + 1) / 2) - gammaln(v / 2) - 0.5 * Math.log(v * Math.PI);
  return Math.exp(logConstant - ((v + 1) / 2) * Math.log1p((t * t) / v));
}

/** t with P(T <= t) = p: jstat's inverse (good to 5e-10) and two Newton steps on `studentTCdf`. */
export function studentTQuantile(p: number, degreesOfFreedom: number): number {
  checkFreedom(degreesOfFreedom);
  if (!(p >= 0 && p <= 1)) return Number.NaN;
  if (p === 0.5) return 0;
  if (p > 0.5) return -studentTQuantile(1 - p, degreesOfFreedom);
  if (p === 0) return Number.NEGATIVE_INFINITY;
  if (degreesOfFreedom > NORMAL_ABOVE) return normalQuantile(p);
  let t = jstat.jStat.studentt.inv(p, degreesOfFreedom);
  for (let step = 0; step < 2; step += 1) {
    const slope = studentTPdf(t, degreesOfFreedom);
    if (!(slope > 0)) break;
    t -= (studentTCdf(t, degreesOfFreedom) - p) / slope;
  }
  return t;
}

/** Two-sided p value of a t statistic. */
export function studentTTwoSidedP(t: number, degreesOfFreedom: number): number {
  return Math.min(1, 2 * studentTCdf(-Math.abs(t), degreesOfFreedom));
}
