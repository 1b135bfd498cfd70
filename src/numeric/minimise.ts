/** Two small minimisers: golden section for one number, Nelder-Mead for a few. */
import { expected } from '../errors.js';

const GOLDEN = (Math.sqrt(5) - 1) / 2;

/**
 * Minimum of a unimodal function on [low, high] by golden section (Kiefer 1953).
 * @param tolerance width of the last bracket, in units of x; the value itself is good to about sqrt(epsilon)
 */
export function goldenSection(
  f: (x: number) => number,
  low: number,
  high: number,
  tolerance: number,
): { readonly x: number; readonly value: number } {
  if (!(high >= low)) throw expected('high', `at least low (${low})`, high);
  if (!(tolerance > 0)) throw expected('tolerance', 'a positive number', tolerance);
  let a = low;
  let b = high;
  let x1 = b - GOLDEN * (b - a);
  let x2 = a + GOLDEN * (b - a);
  let f1 = f(x1);
  let f2 = f(x2);
  // 200 steps shrink any bracket of doubles to nothing; it bounds the loop when tolerance is below rounding.
  for (let step = 0; step < 200 && b - a > tolerance; step += 1) {
    if (f1 <= f2) {
      b = x2;
      x2 = x1;
      f2 = f1;
      x1 = b - GOLDEN * (b - a);
      f1 = f(x1);
    } else {
      a = x1;
      x1 = x2;
      f1 = f2;
      x2 = a + GOLDEN * (b - a);
      f2 = f(x2);
    }
  }
  return f1 <= f2 ? { x: x1, value: f1 } : { x: x2, value: f2 };
}

/** When Nelder-Mead stops. */
export interface NelderMeadOptions {
  /** Stop when all values of the simplex agree to this, default 1e-10 (relative to 1 + |value|). */
  readonly tolerance?: number;
  /** Upper limit of function calls, default 200 per parameter. */
  readonly maxCalls?: number;
}

/** A minimum found by `nelderMead`. */
export interface Minimum {
  readonly x: readonly number[];
  readonly value: number;
  readonly calls: number;
  /** false when the limit of calls ended the search. */
  readonly converged: boolean;
}

/**
 * Minimum of a function of a few numbers (Nelder & Mead 1965, the usual coefficients 1, 2, 1/2, 1/2).
 * @param start first guess
 * @param steps size of the first simplex along each parameter, same length, none zero
 */
export function nelderMead(
  f: (x: readonly number[]) => number,
  start: readonly number[],
  steps: readonly number[],
  options: NelderMeadOptions = {},
): Minimum {
  const size = start.length;
  if (size === 0 || steps.length !== size)
    throw expected('steps', `as long as start (${size})`, steps.length);
  const { tolerance = 1e-10, maxCalls = 200 * size } = options;
  let calls = 0;
  const at = (x: readonly number[]): { x: readonly number[]; value: number } => {
    calls += 1;
    return { x, value: f(x) };
  };
  const simplex = [at([...start])];
  for (let k = 0; k < size; k += 1) simplex.push(at(start.map((v, i) => (i === k ? v + steps[k]! : v))));

  let converged = false;
  while (calls < maxCalls) {
    simplex.sort((p, q) => p.value - q.value);
    const best = simplex[0]!;
    const worst = simplex[size]!;
    if (Math.abs(worst.value - best.value) <= tolerance * (1 + Math.abs(best.value))) {
      converged = true;
      break;
    }
    const centre = start.map((_, i) => {
      let sum = 0;
      for (let k = 0; k < size; k += 1) sum += simplex[k]!.x[i]!;
      return sum / size;
    });
    const along = (t: number) => at(centre.map((c, i) => c + t * (worst.x[i]! - c)));
    const reflected = along(-1);
    if (reflected.value < best.value) {
      const stretched = along(-2);
      simplex[size] = stretched.value < reflected.value ? stretched : reflected;
    } else if (reflected.value < simplex[size - 1]!.value) {
      simplex[size] = reflected;
    } else {
      const inner = along(reflected.value < worst.value ? -0.5 : 0.5);
      if (inner.value < Math.min(worst.value, reflected.value)) {
        simplex[size] = inner;
      } else {
        for (let k = 1; k <= size; k += 1) {
          simplex[k] = at(best.x.map((b, i) => b + 0.5 * (simplex[k]!.x[i]! - b)));
        }
      }
    }
  }
  simplex.sort((p, q) => p.value - q.value);
  return { ...simplex[0]!, calls, converged };
}
