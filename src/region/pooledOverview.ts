/** A shrunken clip shrunken again: a faint answer of a large area that each block's noise hides stands out of it. */
import type { BlockBox, Overview } from './activity.js';
import type { FollowingBlocks, Part } from './followingPart.js';

/** Blocks either way that are taken together; their noise is as many times less. The larger for still fainter answers. */
export const POOLED_SIDES = [4, 8] as const;

/** What a second shrinking is for: an area of so many blocks, whose light changes by so little in the mean, codes. */
const LEAST_BLOCKS = 256;
const FAINT_CODES = 3;
/** A smaller one, such as a sprite on a picture that scrolls, is believed where it comes so well in time. */
const LEAST_SQUARES_IN_TIME = 2;
const LOG_CHANCE_IN_TIME = Math.log(1e-4);

/** A shrunken clip whose light is in parts of a code, so that it may need 16 bit. */
export interface PooledOverview extends Omit<Overview, 'luma'> {
  readonly luma: Uint16Array;
}

/**
 * Means over squares of `side` blocks either way, in units of 1 / `side` code: their noise is then as large as a block's
 * in codes.
 */
export function pooledOverview(
  { columns, rows, frames, luma, rateHz }: Overview,
  side: number,
): PooledOverview {
  const wide = Math.floor(columns / side);
  const high = Math.floor(rows / side);
  const sums = new Uint16Array(wide);
  const pooled = new Uint16Array(wide * high * frames);
  for (let k = 0; k < frames; k++) {
    for (let y = 0; y < high; y++) {
      sums.fill(0);
      for (let row = y * side; row < (y + 1) * side; row++) {
        let at = (k * rows + row) * columns;
        for (let x = 0; x < wide; x++) for (let j = 0; j < side; j++) sums[x]! += luma[at++]!;
      }
      const to = (k * high + y) * wide;
      for (let x = 0; x < wide; x++) pooled[to + x] = (sums[x]! + side / 2) / side;
    }
  }
  return { columns: wide, rows: high, frames, luma: pooled, rateHz };
}

/**
 * Whether a part in squares is what single blocks hide: large and faint. What is strong would have been seen in them, and
 * of what is small, such as a line that passes, the squares hold too much else. Neither counts where chance cannot be so
 * well in time: noise, or a picture that scrolls, hides even a strong answer from the blocks.
 * @param logChance natural logarithm of a bound on that chance.
 */
export function isHiddenFromBlocks({ blocks, weight }: Part, logChance: number, side: number): boolean {
  if (logChance <= LOG_CHANCE_IN_TIME) return blocks.size >= LEAST_SQUARES_IN_TIME;
  return blocks.size >= LEAST_BLOCKS / side ** 2 && weight <= side * FAINT_CODES * blocks.size;
}

/** The blocks of the shrunken clip that squares of it stand for. */
export function blocksOfPooled(
  squares: FollowingBlocks,
  { columns }: Pick<Overview, 'columns'>,
  side: number,
): FollowingBlocks {
  const wide = Math.floor(columns / side);
  const blocks = new Map<number, number>();
  for (const [square, codes] of squares) {
    const box = boxOf(square, wide, side);
    for (let y = box.y0; y < box.y1; y++)
      for (let x = box.x0; x < box.x1; x++) blocks.set(y * columns + x, codes);
  }
  return blocks;
}

function boxOf(square: number, wide: number, side: number): BlockBox {
  const x0 = (square % wide) * side;
  const y0 = Math.floor(square / wide) * side;
  return { x0, y0, x1: x0 + side, y1: y0 + side };
}
