/** Beta and binomial distribution, thin over jstat, with the exact interval of a share. */
import jstat from 'jstat';
import { expected } from '../errors.js';
import { incompleteBeta } from './incompleteBeta.js';

/** P(X <= x) of Beta(a, b). */
export function betaCdf(x: number, a: number, b: number): number {
  return incompleteBeta(x, a, b);
}

/** x with P(X <= x) = p for Beta(a, b): jstat's inverse (good to 3e-8) and two guarded Newton steps. */
export function betaQuantile(p: number, a: number, b: number): number {
  if (p <= 0) return 0;
  if (p >= 1) return 1;
  let x = jstat.jStat.beta.inv(p, a, b);
  for (let step = 0; step < 2; step += 1) {
    const slope = jstat.jStat.beta.pdf(x, a, b);
    const next = x - (betaCdf(x, a, b) - p) / slope;
    if (!(next > 0 && next < 1)) break;
    x = next;
  }
  return x;
}

/** ln of n over k. */
function logChoose(n: number, k: number): number {
  return jstat.jStat.gammaln(n + 1) - jstat.jStat.gammaln(k + 1) - jstat.jStat.gammaln(n - k + 1);
}

/** P(K = k) of Binomial(n, p). */
export function binomialPmf(k: number, n: number, p: number): number {
  if (!Number.isInteger(k) || k < 0 || k > n) return 0;
  if (p <= 0) return k === 0 ? 1 : 0;
  if (p >= 1) return k === n ? 1 : 0;
  return Math.exp(logChoose(n, k) + k * Math.log(p) + (n - k) * Math.log1p(-p));
}

/** P(K <= k) of Binomial(n, p), by the incomplete beta function (exact for large n too). */
export function binomialCdf(k: number, n: number, p: number): number {
  const whole = Math.floor(k);
  if (whole < 0) return 0;
  if (whole >= n) return 1;
  return incompleteBeta(1 - p, n - whole, whole + 1, p);
}

/**
 * Exact (Clopper & Pearson 1934) interval of a share, `successes` of `n`.
 * @returns [low, high], both 0..1; [0, 1] for n = 0
 */
export function clopperPearson(successes: number, n: number, confidence = 0.95): readonly [number, number] {
  if (!(Number.isInteger(successes) && successes >= 0 && successes <= n)) {
    throw expected('successes', `a whole number from 0 to ${n}`, successes);
  }
  const alpha = 1 - confidence;
  const low = successes === 0 ? 0 : betaQuantile(alpha / 2, successes, n - successes + 1);
  const high = successes === n ? 1 : betaQuantile(1 - alpha / 2, successes + 1, n - successes);
  return [low, high];
}
