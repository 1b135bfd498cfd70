/** Permutation tests of means: nothing assumed but exchangeability. */
import { expected } from '../errors.js';
import { seededRandom } from '../numeric/seededRandom.js';
import { mean } from './describe.js';
import { checkSample } from './sample.js';

/** A permutation test. */
export interface PermutationTest {
  /** Mean of x minus mean of y, or mean of the paired differences. */
  readonly difference: number;
  /** Probability of a difference at least as large in size. Never 0. */
  readonly p: number;
  /** Probability of a difference at least as large in sign and size. */
  readonly pGreater: number;
  readonly method: 'exact' | 'monte-carlo';
  /** Arrangements that were looked at. */
  readonly arrangements: number;
}

/** Which arrangements. */
export interface PermutationOptions {
  /** Used where there are too many arrangements to list. */
  readonly seed: number;
  /** Random arrangements then, default 9999. */
  readonly arrangements?: number;
}

/** Up to this many, all arrangements are listed. */
const EXACT_UP_TO = 40_000;
/** Sums equal to this share count as ties: the same numbers added in another order. */
const TIE = 1e-9;

/**
 * Two independent samples: the pool is split anew at the *first sample's own length*. Monte Carlo p values are
 * (1 + count) / (1 + arrangements) (Phipson & Smyth 2010), so that p is never 0 and the test keeps its level.
 */
export function permutationTest(
  x: ArrayLike<number>,
  y: ArrayLike<number>,
  options: PermutationOptions,
): PermutationTest {
  checkSample('x', x, 1);
  checkSample('y', y, 1);
  const m = x.length;
  const pool = Float64Array.from([...Array.from(x), ...Array.from(y)]);
  const total = pool.length;
  const centre = mean(pool);
  const centred = pool.map((v) => v - centre);
  // The difference of means is the sum over the first group times a constant once the pool is centred.
  const observed = sumOf(centred, m);
  const scale = 1 / m + 1 / (total - m);
  const tally = makeTally(observed, centred);
  if (choose(total, m) <= EXACT_UP_TO) {
    const walk = (from: number, left: number, sum: number): void => {
      if (left === 0) {
        tally.add(sum);
        return;
      }
      for (let i = from; i <= total - left; i += 1) walk(i + 1, left - 1, sum + centred[i]!);
    };
    walk(0, m, 0);
    return tally.exact(observed * scale);
  }
  const { seed, arrangements = 9999 } = options;
  checkArrangements(arrangements);
  const random = seededRandom(seed);
  for (let b = 0; b < arrangements; b += 1) {
    for (let i = 0; i < m; i += 1) {
      const j = i + random.integer(total - i);
      const kept = centred[i]!;
      centred[i] = centred[j]!;
      centred[j] = kept;
    }
    tally.add(sumOf(centred, m));
  }
  return tally.monteCarlo(observed * scale);
}

/** Pairs: the sign of each difference x[i] - y[i] is flipped at will (Fisher 1935 sec. 21). */
export function pairedPermutationTest(
  x: ArrayLike<number>,
  y: ArrayLike<number>,
  options: PermutationOptions,
): PermutationTest {
  checkSample('x', x, 1);
  checkSample('y', y, 1);
  if (x.length !== y.length) throw expected('y', `as long as x (${x.length})`, y.length);
  const n = x.length;
  const d = Float64Array.from({ length: n }, (_, i) => x[i]! - y[i]!);
  const observed = sumOf(d, n);
  const tally = makeTally(observed, d);
  if (2 ** n <= EXACT_UP_TO) {
    for (let signs = 0; signs < 2 ** n; signs += 1) {
      let sum = 0;
      for (let i = 0; i < n; i += 1) sum += (signs >> i) & 1 ? -d[i]! : d[i]!;
      tally.add(sum);
    }
    return tally.exact(observed / n);
  }
  const { seed, arrangements = 9999 } = options;
  checkArrangements(arrangements);
  const random = seededRandom(seed);
  for (let b = 0; b < arrangements; b += 1) {
    let sum = 0;
    for (let i = 0; i < n; i += 1) sum += random.uniform() < 0.5 ? -d[i]! : d[i]!;
    tally.add(sum);
  }
  return tally.monteCarlo(observed / n);
}

function checkArrangements(arrangements: number): void {
  if (!(Number.isInteger(arrangements) && arrangements >= 99)) {
    throw expected('arrangements', 'a whole number of at least 99', arrangements);
  }
}

function sumOf(values: Float64Array, count: number): number {
  let sum = 0;
  for (let i = 0; i < count; i += 1) sum += values[i]!;
  return sum;
}

function makeTally(observed: number, values: Float64Array) {
  const slack = TIE * values.reduce((sum, v) => sum + Math.abs(v), 0);
  let count = 0;
  let greater = 0;
  let asLarge = 0;
  return {
    add(sum: number): void {
      count += 1;
      if (sum >= observed - slack) greater += 1;
      if (Math.abs(sum) >= Math.abs(observed) - slack) asLarge += 1;
    },
    exact: (difference: number): PermutationTest => ({
      difference,
      p: asLarge / count,
      pGreater: greater / count,
      method: 'exact',
      arrangements: count,
    }),
    monteCarlo: (difference: number): PermutationTest => ({
      difference,
      p: (1 + asLarge) / (1 + count),
      pGreater: (1 + greater) / (1 + count),
      method: 'monte-carlo',
      arrangements: count,
    }),
  };
}

function choose(n: number, k: number): number {
  let result = 1;
  for (let i = 1; i <= Math.min(k, n - k); i += 1) result = (result * (n - i + 1)) / i;
  return Math.round(result);
}
