/** Over how many steps of a shrunken clip light is averaged, so that a display that shines in pulses looks even. */
import { smallest } from '../numeric/smallest.js';
import type { Overview } from './activity.js';
import type { PooledOverview } from './pooledOverview.js';

/** Mean over so many steps on either side of a change; `usual` for the weights 1 2 2 1. */
export type StepMean = 'usual' | number;

// The two box filters behind the usual weights (1/60 s and 1/40 s, at steps of 1/120 s) even out most lights that pulse.
const [W0, W1, W2, W3] = [1 / 6, 2 / 6, 2 / 6, 1 / 6] as const;
const USUAL_STEPS = 4;
// Pulses that the camera samples come back after a whole number of both their periods and its own: at 240 fps those of
// 50 Hz after 24 frames, 12 steps; those of 75 Hz after 8 steps, of 144 Hz after 5. A mean over as many steps
// sees each pulse alike, where a shorter one sees a beat. Longer ones would run into the next change.
const LONGEST_STEPS = 13;
/** What the usual mean leaves of the pulses, codes: less than this hides no answer. */
const LEAST_BEAT = 1;
/** A longer mean must be quieter by this factor: by 0.53 it is of noise alone, and it tells less well when. */
const QUIETER = 0.4;
/** And of two longer ones the longer. */
const QUIETER_AGAIN = 0.8;
/** Restless blocks that are looked at, out of every so many, over so many pairs of frames. */
const LOOKED_AT = 48;
const EVERY = 5;
const PAIRS = 64;
/** Restless: mean change from one step to the next, codes. */
const LEAST_UNREST = 2;
/** At least this part of a clip shows nothing but the pulses. */
const QUIET_SHARE = 0.25;

/** Steps that a mean reaches on either side. */
export function stepsOf(mean: StepMean): number {
  return mean === 'usual' ? USUAL_STEPS : mean;
}

/** The mean that suits a clip: the usual one, or a longer one where pulses beat against the frames. */
export function evenSteps(overview: Overview | PooledOverview, stepFrames: number): StepMean {
  const restless = restlessBlocks(overview, stepFrames);
  if (restless.length === 0) return 'usual';
  let best: StepMean = 'usual';
  const unrest = unrestOf(restless, best);
  if (unrest < LEAST_BEAT * restless.length) return best;
  let least = QUIETER * unrest;
  for (let length = USUAL_STEPS + 1; length <= LONGEST_STEPS; length++) {
    const left = unrestOf(restless, length);
    if (left < least) [best, least] = [length, QUIETER_AGAIN * left];
  }
  return best;
}

/** Sum over blocks of the change that a quarter of the steps stay below. */
function unrestOf(blocks: readonly Float32Array[], mean: StepMean): number {
  const reach = stepsOf(mean);
  const changes = new Float32Array(blocks[0]!.length);
  let sum = 0;
  for (const means of blocks) {
    stepSizes(means, mean, changes);
    const inside = changes.subarray(reach, changes.length - reach + 1);
    sum += smallest(inside, Math.floor(QUIET_SHARE * (inside.length - 1)));
  }
  return sum;
}

/** Step means of those blocks, out of a sample, whose light changes most from one step to the next. */
function restlessBlocks(
  { columns, rows, frames, luma }: Overview | PooledOverview,
  stepFrames: number,
): Float32Array[] {
  const stride = columns * rows;
  const steps = Math.floor(frames / stepFrames);
  if (steps < 4 * LONGEST_STEPS) return [];
  const between = Math.max(1, Math.floor((frames - stepFrames) / PAIRS));
  const sampled: { readonly block: number; readonly unrest: number }[] = [];
  for (let block = 0; block < stride; block += EVERY) {
    let sum = 0;
    let pairs = 0;
    for (let k = 0; k + stepFrames < frames; k += between, pairs++) {
      sum += Math.abs(luma[(k + stepFrames) * stride + block]! - luma[k * stride + block]!);
    }
    if (sum > LEAST_UNREST * pairs) sampled.push({ block, unrest: sum / pairs });
  }
  sampled.sort((a, b) => b.unrest - a.unrest || a.block - b.block);
  return sampled.slice(0, LOOKED_AT).map(({ block }) => {
    const means = new Float32Array(steps);
    for (let s = 0; s < steps; s++) {
      let sum = 0;
      for (let k = s * stepFrames; k < (s + 1) * stepFrames; k++) sum += luma[k * stride + block]!;
      means[s] = sum / stepFrames;
    }
    return means;
  });
}

/** Absolute change at each step, from the means of one block's steps: the mean after it less that before it. */
export function stepSizes(means: Float32Array, mean: StepMean, out: Float32Array): void {
  const steps = out.length;
  out.fill(0);
  if (mean === 'usual') {
    for (let s = 4; s + 4 <= steps; s++) {
      out[s] = Math.abs(
        W0 * (means[s]! - means[s - 1]!) +
          W1 * (means[s + 1]! - means[s - 2]!) +
          W2 * (means[s + 2]! - means[s - 3]!) +
          W3 * (means[s + 3]! - means[s - 4]!),
      );
    }
    return;
  }
  let sum = 0;
  for (let j = 0; j < mean; j++) sum += means[mean + j]! - means[j]!;
  for (let s = mean; s + mean <= steps; s++) {
    out[s] = Math.abs(sum) / mean;
    if (s + mean < steps) sum += means[s + mean]! - 2 * means[s]! + means[s - mean]!;
  }
}
