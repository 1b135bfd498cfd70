/** Random numbers from a seed that is always an argument: the same seed gives the same numbers everywhere. */
import { uniformFloat64 } from 'pure-rand/distribution/uniformFloat64';
import { xoroshiro128plus } from 'pure-rand/generator/xoroshiro128plus';
import { expected } from '../errors.js';

/** A stream of random numbers; it has state, so hand each task a stream of its own. */
export interface SeededRandom {
  /** Uniform on [low, high), default [0, 1). */
  uniform(low?: number, high?: number): number;
  /** Normal with the given mean and standard deviation, default N(0, 1). */
  normal(mean?: number, sd?: number): number;
  /** Whole number, uniform on 0 .. count - 1. */
  integer(count: number): number;
}

/** xoroshiro128+ starts from a nearly empty state; its first numbers resemble those of neighbouring seeds. */
const WARM_UP_DRAWS = 32;

/**
 * A seeded stream (xoroshiro128+ of pure-rand; normals by the polar method of Marsaglia & Bray 1964).
 * @param seed whole number, -2^31 .. 2^32 - 1; other values are refused
 */
export function seededRandom(seed: number): SeededRandom {
  if (!Number.isInteger(seed) || seed < -(2 ** 31) || seed >= 2 ** 32) {
    throw expected('seed', 'a whole number of 32 bits', seed);
  }
  const generator = xoroshiro128plus(seed | 0);
  for (let i = 0; i < WARM_UP_DRAWS; i += 1) generator.next();
  let spareNormal: number | null = null;

  const unit = (): number => uniformFloat64(generator);

  const standardNormal = (): number => {
    if (spareNormal !== null) {
      const spare = spareNormal;
      spareNormal = null;
      return spare;
    }
    for (;;) {
      const a = 2 * unit() - 1;
      const b = 2 * unit() - 1;
      const r2 = a * a + b * b;
      if (r2 > 0 && r2 < 1) {
        const factor = Math.sqrt((-2 * Math.log(r2)) / r2);
        spareNormal = b * factor;
        return a * factor;
      }
    }
  };

  return {
    uniform: (low = 0, high = 1) => low + (high - low) * unit(),
    normal: (mean = 0, sd = 1) => mean + sd * standardNormal(),
    integer: (count) => Math.min(count - 1, Math.floor(unit() * count)),
  };
}
