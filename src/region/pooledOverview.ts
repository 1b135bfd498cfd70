/** A shrunken clip shrunken again: a faint answer of a large area that each block's noise hides stands out of it. */
import type { BlockBox, Overview } from './activity.js';
import type { Part } from './followingPart.js';

/** Blocks either way that are taken together; their noise is as many times less. */
export const POOLED = 4;

/** What a second shrinking is for: an area of so many squares, whose light changes by so little in the mean, codes. */
const LEAST_SQUARES = 16;
const FAINT_CODES = 3;

/** A shrunken clip whose light is in parts of a code, so that it may need 16 bit. */
export interface PooledOverview extends Omit<Overview, 'luma'> {
  readonly luma: Uint16Array;
}

/** Means over squares of blocks, in units of 1 / `POOLED` code: their noise is then as large as a block's in codes. */
export function pooledOverview({ columns, rows, frames, luma, rateHz }: Overview): PooledOverview {
  const wide = Math.floor(columns / POOLED);
  const high = Math.floor(rows / POOLED);
  const sums = new Uint16Array(wide);
  const pooled = new Uint16Array(wide * high * frames);
  for (let k = 0; k < frames; k++) {
    for (let y = 0; y < high; y++) {
      sums.fill(0);
      for (let row = y * POOLED; row < (y + 1) * POOLED; row++) {
        let at = (k * rows + row) * columns;
        for (let x = 0; x < wide; x++) for (let j = 0; j < POOLED; j++) sums[x]! += luma[at++]!;
      }
      const to = (k * high + y) * wide;
      for (let x = 0; x < wide; x++) pooled[to + x] = (sums[x]! + POOLED / 2) / POOLED;
    }
  }
  return { columns: wide, rows: high, frames, luma: pooled, rateHz };
}

/**
 * Whether a part in squares is what single blocks hide: large and faint. What is strong would have been seen in them, and
 * of what is small, such as a line that passes, the squares hold too much else.
 */
export function isFaintArea({ blocks, weight }: Part): boolean {
  return blocks.size >= LEAST_SQUARES && weight <= POOLED * FAINT_CODES * blocks.size;
}

/** The blocks of the shrunken clip that squares of it stand for. */
export function blocksOfPooled(
  squares: ReadonlySet<number>,
  { columns }: Pick<Overview, 'columns'>,
): Set<number> {
  const wide = Math.floor(columns / POOLED);
  const blocks = new Set<number>();
  for (const square of squares) {
    const box = boxOf(square, wide);
    for (let y = box.y0; y < box.y1; y++) for (let x = box.x0; x < box.x1; x++) blocks.add(y * columns + x);
  }
  return blocks;
}

function boxOf(square: number, wide: number): BlockBox {
  const x0 = (square % wide) * POOLED;
  const y0 = Math.floor(square / wide) * POOLED;
  return { x0, y0, x1: x0 + POOLED, y1: y0 + POOLED };
}
