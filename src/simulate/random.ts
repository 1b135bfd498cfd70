/**
 * Seeded randomness of scenes: a small stream generator for drawing scenes, and a position hash for sensor noise,
 * so that a pixel's noise depends on where and when it is, never on which rectangle was asked for.
 */

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
  /** Standard normal deviate (Box and Muller 1958). */
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
 * that a scene keeps its presses when only its texture is drawn anew. Generator: sfc32 (C. Doty-Humphrey, PractRand).
 */
export function seededStream(seed: number, purpose: number): RandomStream {
  let a = hashWords(seed, purpose, 1) | 0;
  let b = hashWords(seed, purpose, 2) | 0;
  let c = hashWords(seed, purpose, 3) | 0;
  let counter = 1;
  const next = (): number => {
    const t = (a + b + counter) | 0;
    counter = (counter + 1) | 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) | 0;
    c = ((c << 21) | (c >>> 11)) + t;
    c |= 0;
    return (t >>> 0) / 4294967296;
  };
  for (let i = 0; i < 16; i++) next();
  const between = (low: number, high: number): number => low + (high - low) * next();
  const whole = (low: number, high: number): number => low + Math.floor((high - low + 1) * next());
  return {
    next,
    between,
    whole,
    pick: (list) => list[whole(0, list.length - 1)]!,
    normal: () => Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next()),
  };
}

/** Number of entries of `normalTable`: the upper 12 bits of a hash are an index into it. */
export const NORMAL_TABLE_SIZE = 4096;

/**
 * Quantiles of the standard normal distribution at (i + 0.5) / 4096, rescaled to a standard deviation of one: a
 * lookup turns 12 uniform bits into a normal deviate (largest 3.7; small enough to stay in the nearest cache). Found by summing the density on a fine grid.
 */
export function normalTable(): Float32Array {
  const table = new Float32Array(NORMAL_TABLE_SIZE);
  const step = 1 / 4096;
  let probability = 0.5;
  let x = 0;
  let density = 1 / Math.sqrt(2 * Math.PI);
  for (let i = NORMAL_TABLE_SIZE / 2; i < NORMAL_TABLE_SIZE; i++) {
    const target = (i + 0.5) / NORMAL_TABLE_SIZE;
    let before = probability;
    while (probability < target) {
      before = probability;
      const middle = density * Math.exp(-(x + step / 4) * (step / 2));
      const end = Math.exp(-0.5 * (x + step) ** 2) / Math.sqrt(2 * Math.PI);
      probability += (step / 6) * (density + 4 * middle + end);
      density = end;
      x += step;
    }
    const back = probability > before ? (probability - target) / (probability - before) : 0;
    const value = x - step * Math.min(1, Math.max(0, back));
    table[i] = value;
    table[NORMAL_TABLE_SIZE - 1 - i] = -value;
  }
  let sumOfSquares = 0;
  for (const value of table) sumOfSquares += value * value;
  const scale = 1 / Math.sqrt(sumOfSquares / NORMAL_TABLE_SIZE);
  for (let i = 0; i < NORMAL_TABLE_SIZE; i++) table[i] = table[i]! * scale;
  return table;
}
