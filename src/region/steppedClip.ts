/** A shrunken clip in steps, and how much each block's light changes at each of them. */
import type { Overview } from './activity.js';

// The clip is looked at in steps of this length; a change is the mean of four steps (weights 1 2 2 1) after it less that
// before it. The two box filters behind the weights (1/60 s and 1/40 s) even out most lights that pulse.
const STEP_S = 1 / 120;
const WEIGHTS = [1 / 6, 2 / 6, 2 / 6, 1 / 6] as const;

/** A shrunken clip, looked at in steps of a few frames. */
export interface SteppedClip {
  readonly overview: Overview;
  readonly stepFrames: number;
  readonly steps: number;
}

/** A shrunken clip in steps of about 1/120 s; what is left of the last step is not looked at. */
export function steppedClip(overview: Overview): SteppedClip {
  const stepFrames = Math.max(1, Math.round(STEP_S * overview.rateHz));
  return { overview, stepFrames, steps: Math.floor(overview.frames / stepFrames) };
}

/**
 * Visits blocks with the absolute change of their light at each step, codes; the array is used again for the next block.
 * A row of blocks is read at a time: block by block, every frame would be fetched from memory again for each.
 */
export function forEachBlock(
  { overview: { columns, rows, luma }, stepFrames, steps }: SteppedClip,
  wanted: (block: number) => boolean,
  visit: (block: number, sizes: Float32Array) => void,
): void {
  const stride = columns * rows;
  const means = new Float32Array(steps * columns);
  const sums = new Uint32Array(columns);
  const sizes = new Float32Array(steps);
  for (let first = 0; first < stride; first += columns) {
    const blocks = Array.from({ length: columns }, (_, x) => first + x).filter(wanted);
    if (blocks.length === 0) continue;
    for (let s = 0; s < steps; s++) {
      sums.fill(0);
      for (let k = s * stepFrames; k < (s + 1) * stepFrames; k++) {
        const at = k * stride + first;
        for (let x = 0; x < columns; x++) sums[x]! += luma[at + x]!;
      }
      for (let x = 0; x < columns; x++) means[s * columns + x] = sums[x]! / stepFrames;
    }
    for (const block of blocks) {
      stepSizes(means, block - first, columns, sizes);
      visit(block, sizes);
    }
  }
}

/** Absolute change at each step, from the means of the steps of one column of `means`. */
function stepSizes(means: Float32Array, column: number, columns: number, out: Float32Array): void {
  const steps = out.length;
  out.fill(0);
  for (let s = 4; s + 4 <= steps; s++) {
    let value = 0;
    for (let j = 0; j < 4; j++) {
      value += WEIGHTS[j]! * (means[(s + j) * columns + column]! - means[(s - 1 - j) * columns + column]!);
    }
    out[s] = Math.abs(value);
  }
}
