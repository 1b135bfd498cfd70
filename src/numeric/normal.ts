/** The normal distribution, exact to rounding in both tails and in logarithms. */

const LOG_SQRT_2PI = 0.9189385332046728;
const SQRT_2PI = 2.5066282746310007;

// W. J. Cody, "Rational Chebyshev approximations for the error function", Math. Comp. 23 (1969) 631-637,
// rearranged for the normal distribution: centre, middle and tail of |z|.
const CENTRE_P = [
  0.06568233791820745, 2.2352520354606837, 161.02823106855587, 1067.6894854603709, 18154.98125334356,
] as const;
const CENTRE_Q = [47.202581904688245, 976.0985517377767, 10260.932208618979, 45507.78933502673] as const;
const MIDDLE_P = [
  1.0765576773720192e-8, 0.39894151208813466, 8.883149794388377, 93.50665613217785, 597.2702763948002,
  2494.5375852903726, 6848.190450536283, 11602.65143764735, 9842.714838383978,
] as const;
const MIDDLE_Q = [
  22.266688044328117, 235.387901782625, 1519.3775994075547, 6485.558298266761, 18615.571640885097,
  34900.95272114598, 38912.00328609327, 19685.429676859992,
] as const;
const TAIL_P = [
  0.023073441764940174, 0.215898534057957, 0.12740116116024736, 0.022235277870649807, 0.0014216191932278934,
  2.9112874951168793e-5,
] as const;
const TAIL_Q = [
  1.284260096144911, 0.4682382124808651, 0.06598813786892856, 0.0037823963320275824, 7.297515550839662e-5,
] as const;

/** Horner ratio p(x)/q(x) in Cody's order: the first of `p` belongs to the highest power, `q` is monic. */
function codyRatio(p: readonly number[], q: readonly number[], x: number): number {
  let top = p[0]! * x;
  let bottom = x;
  const last = q.length - 1;
  for (let i = 0; i < last; i += 1) {
    top = (top + p[i + 1]!) * x;
    bottom = (bottom + q[i]!) * x;
  }
  return (top + p[last + 1]!) / (bottom + q[last]!);
}

/** Phi(-y) e^{y^2/2} for y >= 0: the tail without its exponential, never under- or overflowing. */
function scaledTail(y: number): number {
  if (y <= 0.67448975) return normalCdf(-y) * Math.exp(0.5 * y * y);
  if (y <= 5.656854249492381) return codyRatio(MIDDLE_P, MIDDLE_Q, y);
  const inverse = 1 / (y * y);
  return (1 / SQRT_2PI - inverse * codyRatio(TAIL_P, TAIL_Q, inverse)) / y;
}

/** e^{-y^2/2} with the square split as Cody does, so that large y keep full relative precision. */
function expHalfSquare(y: number): number {
  const coarse = Math.trunc(y * 16) / 16;
  return Math.exp(-0.5 * coarse * coarse) * Math.exp(-0.5 * (y - coarse) * (y + coarse));
}

/** Density of N(0, 1). */
export function normalPdf(z: number): number {
  return Math.exp(-0.5 * z * z) / SQRT_2PI;
}

/** Natural logarithm of the density of N(0, 1). */
export function normalLogPdf(z: number): number {
  return -0.5 * z * z - LOG_SQRT_2PI;
}

/** P(Z <= z) of N(0, 1), with full relative precision in the lower tail (use `normalCdf(-z)` for the upper). */
export function normalCdf(z: number): number {
  const y = Math.abs(z);
  if (Number.isNaN(z)) return Number.NaN;
  if (y <= 0.67448975) return 0.5 + z * codyRatio(CENTRE_P, CENTRE_Q, z * z);
  if (y > 40) return z > 0 ? 1 : 0;
  const tail = scaledTail(y) * expHalfSquare(y);
  return z < 0 ? tail : 1 - tail;
}

/** ln P(Z <= z), finite for every finite z. */
export function normalLogCdf(z: number): number {
  if (z > -1) return Math.log1p(-normalCdf(-z));
  return Math.log(scaledTail(-z)) - 0.5 * z * z;
}

/**
 * ln(Phi(high) - Phi(low)) for high > low, without the cancellation of the plain difference in the tails.
 * Returns -Infinity for high <= low.
 */
export function normalLogInterval(low: number, high: number): number {
  if (!(high > low)) return Number.NEGATIVE_INFINITY;
  if (low > 0) return normalLogInterval(-high, -low);
  if (high <= 0) {
    const logHigh = normalLogCdf(high);
    const gap = normalLogCdf(low) - logHigh;
    return logHigh + (gap > -Math.LN2 ? Math.log(-Math.expm1(gap)) : Math.log1p(-Math.exp(gap)));
  }
  return Math.log1p(-normalCdf(low) - normalCdf(-high));
}

// M. J. Wichura, "Algorithm AS 241", Appl. Statist. 37 (1988) 477-484, PPND16.
const AS241_A = [
  2509.0809287301227, 33430.57558358813, 67265.7709270087, 45921.95393154987, 13731.69376550946,
  1971.5909503065513, 133.14166789178438, 3.3871328727963665,
] as const;
const AS241_B = [
  5226.495278852546, 28729.085735721943, 39307.89580009271, 21213.794301586597, 5394.196021424751,
  687.1870074920579, 42.31333070160091, 1,
] as const;
const AS241_C = [
  0.0007745450142783414, 0.022723844989269184, 0.2417807251774506, 1.2704582524523684, 3.6478483247632045,
  5.769497221460691, 4.630337846156546, 1.4234371107496835,
] as const;
const AS241_D = [
  1.0507500716444169e-9, 0.0005475938084995345, 0.015198666563616457, 0.14810397642748008, 0.6897673349851,
  1.6763848301838038, 2.053191626637759, 1,
] as const;
const AS241_E = [
  2.0103343992922881e-7, 2.7115555687434876e-5, 0.0012426609473880784, 0.026532189526576124,
  0.29656057182850487, 1.7848265399172913, 5.463784911164114, 6.657904643501103,
] as const;
const AS241_F = [
  2.0442631033899397e-15, 1.421511758316446e-7, 1.8463183175100548e-5, 0.0007868691311456133,
  0.014875361290850615, 0.1369298809227358, 0.599832206555888, 1,
] as const;

function horner(coefficients: readonly number[], x: number): number {
  let sum = 0;
  for (const c of coefficients) sum = sum * x + c;
  return sum;
}

/** z with P(Z <= z) = p; -Infinity and Infinity at 0 and 1, NaN outside. Relative error about 1e-15. */
export function normalQuantile(p: number): number {
  if (!(p >= 0 && p <= 1)) return Number.NaN;
  if (p === 0) return Number.NEGATIVE_INFINITY;
  if (p === 1) return Number.POSITIVE_INFINITY;
  const q = p - 0.5;
  if (Math.abs(q) <= 0.425) {
    const r = 0.180625 - q * q;
    return (q * horner(AS241_A, r)) / horner(AS241_B, r);
  }
  const r = Math.sqrt(-Math.log(q < 0 ? p : 1 - p));
  const z =
    r <= 5
      ? horner(AS241_C, r - 1.6) / horner(AS241_D, r - 1.6)
      : horner(AS241_E, r - 5) / horner(AS241_F, r - 5);
  return q < 0 ? -z : z;
}
