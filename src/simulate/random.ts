/**
 * Seeded randomness of scenes: a small stream generator for drawing scenes, and a position hash for sensor noise,
 * so that a pixel's noise depends on where and when it is, never on which rectangle was asked for.
 */
import { normalQuantile } from '../numeric/normal.js';
import { seededRandom } from '../numeric/seededRandom.js';

/** A stream of pseudo-random numbers; the same seed gives the same stream. */
export interface RandomStream {
  /** Uniform on [0, 1). */
  readonly next: () => number;
  /** Uniform on [low, high). */
  readonly between: (low: number, high: number) => number;
  /** A whole number from low to high, both included. */
  readonly whole: (low: number, high: number) => number;
  /** One entry of a list that is not empty. */
  readonly pick: <T>(list: readonly T[]) => T;
  /** Standard normal deviate. */
  readonly normal: () => number;
}

/**
 * Mixes 32 bits so that neighbouring inputs give unrelated outputs (finaliser of MurmurHash3, A. Appleby, public
 * domain). Input and output: unsigned 32-bit.
 */
export function mixBits(value: number): number {
  let h = value | 0;
  h = Math.imul(h ^ (h >>> 16), 0x85ebca6b);
  h = Math.imul(h ^ (h >>> 13), 0xc2b2ae35);
  return (h ^ (h >>> 16)) >>> 0;
}

/** One unsigned 32-bit word from several whole numbers, order matters. */
export function hashWords(...words: readonly number[]): number {
  let h = 0x9e3779b9;
  for (const word of words) h = mixBits(Math.imul(h, 0x01000193) ^ (word | 0));
  return h;
}

/**
 * A stream for a seed (whole number) and a purpose: streams of different purposes do not disturb each other, so
 * that a scene keeps its presses when only its texture is drawn anew.
 */
export function seededStream(seed: number, purpose: number): RandomStream {
  const random = seededRandom(hashWords(seed, purpose));
  return {
    next: () => random.uniform(),
    between: (low, high) => low + (high - low) * random.uniform(),
    whole: (low, high) => low + random.integer(high - low + 1),
    pick: (list) => list[random.integer(list.length)]!,
    normal: () => random.normal(),
  };
}

/** Number of entries of `normalTable`: the upper 12 bits of a hash are an index into it. */
const NORMAL_TABLE_SIZE = 4096;

/**
 * Quantiles of the standard normal distribution at (i + 0.5) / 4096, rescaled to a standard deviation of one: a
 * lookup turns 12 uniform bits into a normal deviate (largest 3.7; small enough to stay in the nearest cache).
 */
export function normalTable(): Float32Array {
  const quantiles = Array.from({ length: NORMAL_TABLE_SIZE / 2 }, (_, i) =>
    normalQuantile(0.5 + (i + 0.5) / NORMAL_TABLE_SIZE),
  );
  const meanSquare = quantiles.reduce((sum, z) => sum + z * z, 0) / quantiles.length;
  const scale = 1 / Math.sqrt(meanSquare);
  const table = new Float32Array(NORMAL_TABLE_SIZE);
  for (const [i, z] of quantiles.entries()) {
    table[NORMAL_TABLE_SIZE / 2 + i] = z * scale;
    table[NORMAL_TABLE_SIZE / 2 - 1 - i] = -z * scale;
  }
  return table;
}
