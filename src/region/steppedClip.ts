/** A shrunken clip in steps, and how much each block's light changes at each of them. */
import type { Overview } from './activity.js';
import { evenSteps, type StepMean, stepSizes } from './evenSteps.js';
import type { PooledOverview } from './pooledOverview.js';

// The clip is looked at in steps of this length.
const STEP_S = 1 / 120;

/** A shrunken clip, looked at in steps of a few frames. */
export interface SteppedClip {
  readonly overview: Overview | PooledOverview;
  readonly stepFrames: number;
  readonly steps: number;
  /** What changes are told by. */
  readonly mean: StepMean;
}

/** A shrunken clip in steps of about 1/120 s; what is left of the last step is not looked at. */
export function steppedClip(overview: Overview | PooledOverview): SteppedClip {
  const stepFrames = Math.max(1, Math.round(STEP_S * overview.rateHz));
  const steps = Math.floor(overview.frames / stepFrames);
  return { overview, stepFrames, steps, mean: evenSteps(overview, stepFrames) };
}

/**
 * Visits blocks with the absolute change of their light at each step, codes; the array is used again for the next block.
 * A row of blocks is read at a time: block by block, every frame would be fetched from memory again for each.
 */
export function forEachBlock(
  { overview: { columns, rows, luma }, stepFrames, steps, mean }: SteppedClip,
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
      stepSizes(own, mean, sizes);
      visit(block, sizes);
    }
  }
}
