/** Seeded draws for the fuzzer: the same seed and case number give the same file for ever. */

/** A stream of draws. */
export interface Draws {
  /** In [0, 1). */
  readonly next: () => number;
  /** A whole number from 0 to `n` - 1. */
  readonly below: (n: number) => number;
  readonly pick: <T>(items: readonly T[]) => T;
  readonly chance: (share: number) => boolean;
}

/** mulberry32 (32-bit state), begun at a hash of the words. */
export function drawsOf(...words: readonly number[]): Draws {
  let state = 0x9e3779b9;
  for (const word of words) state = Math.imul(state ^ (word | 0), 0x85ebca6b) ^ (state >>> 13);
  const next = () => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
  const below = (n: number) => Math.floor(next() * n);
  return { next, below, pick: (items) => items[below(items.length)]!, chance: (share) => next() < share };
}
