/** Coverage factor of a 95 % interval of a sum whose parts are not all normal (JCGM 101:2008, without its draws). */
import { normalCdf, normalPdf } from '../numeric/normal.js';

/** One independent part of a sum. */
export interface ShapedPart {
  readonly standardUncertainty: number;
  /** 0 normal, -1.2 uniform, between them a uniform and a normal part together; above 0 longer tails. */
  readonly excessKurtosis: number;
}

const UNIFORM_EXCESS = -1.2;
// A part of less than this share of the sum's sd is as good as normal, and the sum of the others has at least that much.
const LEAST_SD = 0.01;
const TAIL = 0.025;
// By which longer tails widen a 95 % interval: about as much as those of Student's t, whose excess is 6 / (nu - 4).
const PER_EXCESS = 0.05;
const MOST_EXCESS = 3;

/**
 * Half width of the central 95 % interval over the standard deviation. The two largest uniform parts are convolved with
 * everything else as one normal part: exact for up to two uniform parts.
 */
export function coverageFactor95(parts: readonly ShapedPart[]): number {
  const variance = parts.reduce((sum, { standardUncertainty: u }) => sum + u * u, 0);
  if (variance === 0) return 1.96;
  const uniform = parts
    .map(({ standardUncertainty: u, excessKurtosis: k }) => (u * u * flatShare(k)) / variance)
    .sort((x, y) => y - x)
    .slice(0, 2)
    .map((share) => (share > LEAST_SD ** 2 ? share : 0));
  const [first = 0, second = 0] = uniform;
  const sd = Math.max(LEAST_SD, Math.sqrt(Math.max(0, 1 - first - second)));
  const cdf = sumCdf(Math.sqrt(3 * first), Math.sqrt(3 * second), sd);
  let low = 0;
  let high = 4;
  while (high - low > 1e-6) {
    const middle = (low + high) / 2;
    if (1 - cdf(middle) > TAIL) low = middle;
    else high = middle;
  }
  const excess = parts.reduce(
    (sum, { standardUncertainty: u, excessKurtosis: k }) => sum + Math.max(0, k) * (u ** 4 / variance ** 2),
    0,
  );
  return (low + high) / 2 + PER_EXCESS * Math.min(MOST_EXCESS, excess);
}

/** Share (0..1) of a part's variance that is uniform, if the rest of it is normal. */
export function flatShare(excess: number): number {
  return Math.sqrt(Math.min(1, Math.max(0, excess / UNIFORM_EXCESS)));
}

/** Distribution of a normal part and two uniform ones of half widths `a` and `b`: the normal one, integrated over them. */
function sumCdf(a: number, b: number, sd: number): (x: number) => number {
  if (a === 0) return (x) => normalCdf(x / sd);
  const once = (z: number) => z * normalCdf(z) + normalPdf(z);
  if (b === 0) return (x) => (sd / (2 * a)) * (once((x + a) / sd) - once((x - a) / sd));
  const twice = (z: number) => ((z * z + 1) * normalCdf(z) + z * normalPdf(z)) / 2;
  return (x) =>
    (sd ** 2 / (4 * a * b)) *
    (twice((x + a + b) / sd) - twice((x + a - b) / sd) - twice((x - a + b) / sd) + twice((x - a - b) / sd));
}
