/** Propagation of distributions (JCGM 101:2008): for models that are not linear or not normal. */
import { expected } from '../errors.js';
import { type SeededRandom, seededRandom } from '../numeric/seededRandom.js';

/** The distribution of a result, from random draws. */
export interface MonteCarloResult {
  readonly mean: number;
  readonly median: number;
  /** Standard uncertainty. */
  readonly sd: number;
  /** Equal tails (JCGM 101 7.7.2). */
  readonly symmetricInterval: readonly [number, number];
  /** The narrowest interval of the same coverage (JCGM 101 5.3.4, 7.7.4). */
  readonly shortestInterval: readonly [number, number];
  readonly draws: number;
}

/** How many draws. */
export interface MonteCarloOptions {
  readonly seed: number;
  /** Default 200 000, the 10^4 / (1 - p) of JCGM 101 7.2.1 at 95 %. */
  readonly draws?: number;
  readonly confidence?: number;
}

/**
 * Draws the model again and again and describes what comes out.
 * @param draw one value of the result, its inputs drawn from `random`
 */
export function propagate(
  draw: (random: SeededRandom) => number,
  options: MonteCarloOptions,
): MonteCarloResult {
  const { seed, draws = 200_000, confidence = 0.95 } = options;
  if (!(Number.isInteger(draws) && draws >= 1000))
    throw expected('draws', 'a whole number of at least 1000', draws);
  if (!(confidence > 0 && confidence < 1)) throw expected('confidence', 'between 0 and 1', confidence);
  const random = seededRandom(seed);
  const values = new Float64Array(draws);
  for (let i = 0; i < draws; i += 1) values[i] = draw(random);
  values.sort();
  let mean = 0;
  for (const v of values) mean += v / draws;
  let squares = 0;
  for (const v of values) squares += (v - mean) ** 2;

  // 7.7: q = p M rounded; the symmetric interval starts at r = (M - q) / 2, the shortest is searched over r.
  const covered = Math.min(draws - 1, Math.floor(confidence * draws + 0.5));
  const start = Math.floor((draws - covered) / 2 + 0.5) - 1;
  let shortest = 0;
  for (let r = 1; r + covered < draws; r += 1) {
    if (values[r + covered]! - values[r]! < values[shortest + covered]! - values[shortest]!) shortest = r;
  }
  return {
    mean,
    median: 0.5 * (values[(draws - 1) >> 1]! + values[draws >> 1]!),
    sd: Math.sqrt(squares / (draws - 1)),
    symmetricInterval: [values[Math.max(0, start)]!, values[Math.max(0, start) + covered]!],
    shortestInterval: [values[shortest]!, values[shortest + covered]!],
    draws,
  };
}
