/** Frames in which the picture of a light that comes in pulses stands still, bright or dim. */

// Pulses that are all seen leave more than this share of the frames around them still (flashes of 3 refreshes and more).
const LEAST_STEADY = 0.25;
const WIDER = [2, 3, 5] as const;
// A picture in whose bright frames this share more are dark than a shorter look shows has pulses with long gaps.
const DARK_PHASE = 0.1;

/** Frames of still pictures, by brightness. */
export interface SteadyFrames {
  /** Frames in which the region is bright, away from changes: there the pulses are seen best. */
  readonly bright: readonly number[];
  /** Frames in which it is clearly darker than that. */
  readonly dim: readonly number[];
}

/**
 * Frames in which the picture is bright, or dim, and still: one explanation of what is dark, or a second one that takes
 * more of it for pulses; their beat tells.
 * @param refreshT camera frames of a refresh: within twice most of it a whole pulse comes, if all are seen.
 */
export function steadyFrames(light: readonly Float64Array[], refreshT: number): SteadyFrames[] {
  const frames = light[0]!.length;
  const total = new Float64Array(frames);
  for (const values of light) for (let k = 0; k < frames; k++) total[k]! += values[k]!;
  const most = Math.max(1, Math.ceil(0.8 * refreshT));
  const first = steadyWithin(total, most, most);
  // A bright picture that is hardly ever still: some of its pulses fall behind the closed shutter each time. Or one whose
  // pulses nearly keep pace with the frames, so that it goes dark for many frames: they belong to the bright picture.
  const wider = WIDER.map((times) => steadyWithin(total, Math.ceil(0.8 * times * refreshT), most));
  if (first.bright.length < LEAST_STEADY * first.lit) {
    return [wider.reduce((a, b) => (b.bright.length > a.bright.length ? b : a), first)];
  }
  const second = wider.find((w) => w.dark > first.dark + DARK_PHASE * w.bright.length);
  return second ? [first, second] : [first];
}

/**
 * @param reach camera frames within which, to either side, a pulse of a bright picture is seen.
 * @param guard frames between the outermost pulses that were seen and a picture that is surely still.
 */
function steadyWithin(
  total: Float64Array,
  reach: number,
  guard: number,
): SteadyFrames & { readonly lit: number; readonly dark: number } {
  const crest = runningMax(total, reach);
  const limit = 0.45 * Float64Array.from(crest).sort()[Math.floor(0.97 * (total.length - 1))]!;
  const above = Float64Array.from(crest, (v) => (v > limit ? 1 : 0));
  const anyAbove = runningMax(above, reach + guard);
  const anyBelow = runningMax(
    above.map((v) => 1 - v),
    reach + guard,
  );
  const all = Array.from(total.keys());
  const bright = all.filter((k) => anyBelow[k] === 0);
  return {
    bright,
    dark: bright.filter((k) => total[k]! < limit).length,
    dim: all.filter((k) => anyAbove[k] === 0),
    lit: above.reduce((a, b) => a + b, 0),
  };
}

function runningMax(values: Float64Array, reach: number): Float64Array {
  return values.map((_, k) => {
    let max = Number.NEGATIVE_INFINITY;
    const to = Math.min(values.length - 1, k + reach);
    for (let i = Math.max(0, k - reach); i <= to; i++) if (values[i]! > max) max = values[i]!;
    return max;
  });
}
