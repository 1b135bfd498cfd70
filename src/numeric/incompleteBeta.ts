/** The regularised incomplete beta function: jstat stops at 1e-7 for large parameters, p values need more. */
import jstat from 'jstat';

const TINY = 1e-300;

/** Continued fraction of the incomplete beta function by the modified Lentz method (DLMF 8.17.22, 1.12). */
function continuedFraction(x: number, a: number, b: number): number {
  let c = 1;
  let d = 1 - ((a + b) * x) / (a + 1);
  d = 1 / (Math.abs(d) < TINY ? TINY : d);
  let h = d;
  // O(sqrt(max(a, b))) steps are needed; the bound only guards against NaN.
  for (let m = 1; m <= 20_000; m += 1) {
    const even = (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m));
    d = 1 + even * d;
    d = 1 / (Math.abs(d) < TINY ? TINY : d);
    c = 1 + even / c;
    if (Math.abs(c) < TINY) c = TINY;
    h *= d * c;
    const odd = (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1));
    d = 1 + odd * d;
    d = 1 / (Math.abs(d) < TINY ? TINY : d);
    c = 1 + odd / c;
    if (Math.abs(c) < TINY) c = TINY;
    const factor = d * c;
    h *= factor;
    if (Math.abs(factor - 1) < 2 * Number.EPSILON) break;
  }
  return h;
}

/**
 * I_x(a, b), 0..1, for a, b > 0. The logarithm of the gamma function comes from jstat.
 * @param complement 1 - x, to be given where x is so near 1 that 1 - x loses digits
 */
export function incompleteBeta(x: number, a: number, b: number, complement = 1 - x): number {
  if (Number.isNaN(x)) return Number.NaN;
  if (x <= 0) return 0;
  if (complement <= 0) return 1;
  const { gammaln } = jstat.jStat;
  const front = Math.exp(
    gammaln(a + b) - gammaln(a) - gammaln(b) + a * Math.log(x) + b * Math.log(complement),
  );
  // The fraction converges fast below the mean; above it the mirror I_x(a,b) = 1 - I_{1-x}(b,a) does.
  if (x < (a + 1) / (a + b + 2)) return (front * continuedFraction(x, a, b)) / a;
  return 1 - (front * continuedFraction(complement, b, a)) / b;
}
