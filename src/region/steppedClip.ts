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
  const own = new Float32Array(steps);
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
      for (let s = 0, from = block - first; s < steps; s++, from += columns) own[s] = means[from]!;
      stepSizes(own, sizes);
      visit(block, sizes);
    }
  }
}

/** Absolute change at each step, from the means of one block's steps. */
function stepSizes(means: Float32Array, out: Float32Array): void {
  const [w0, w1, w2, w3] = WEIGHTS;
  const steps = out.length;
  out.fill(0);
  for (let s = 4; s + 4 <= steps; s++) {
    out[s] = Math.abs(
      w0 * (means[s]! - means[s - 1]!) +
        w1 * (means[s + 1]! - means[s - 2]!) +
        w2 * (means[s + 2]! - means[s - 3]!) +
        w3 * (means[s + 3]! - means[s - 4]!),
    );
  }
}
