/** A clip that changes its rate on the way: a short fast burst inside a slow recording. Finds the fast frames. */

/** The frames of a clip's fastest rate. */
export interface FastParts {
  /** Indices of the frames in the fast parts, ascending. */
  readonly frames: Uint32Array;
  /** Positions in `frames` at which a new part begins, without 0: nothing is continuous across them. */
  readonly breaks: readonly number[];
  /** Number of frames that lie in slower parts. */
  readonly slowFrames: number;
}

/** A delta this much longer than the fast period is slow, relative (half a frame more). */
const SLOW_FROM = 1.5;
/** So many slow deltas in a row are another rate; single ones are lost frames. */
const SLOW_RUN = 8;
/** A fast part needs so many frames, or its rate is not sure and it is too short for a press. */
const FAST_RUN = 16;

/**
 * Finds the frames of the fastest rate in a clip that changes its rate for good stretches of time.
 * @param ticks presentation times of all frames in order.
 * @returns null where one rate holds all through.
 */
export function findFastParts(ticks: Float64Array): FastParts | null {
  const n = ticks.length;
  if (n < SLOW_RUN + FAST_RUN) return null;
  const periodTicks = fastPeriod(ticks);
  // A tick of grace, where the clock is so coarse that one tick is a good part of a period.
  const limit = Math.max(SLOW_FROM * periodTicks, periodTicks + 1);
  const isSlow = (i: number) => ticks[i + 1]! - ticks[i]! > limit;
  const runs: { from: number; to: number; slow: boolean }[] = [];
  for (let i = 0; i < n - 1; ) {
    const slow = isSlow(i);
    let end = i + 1;
    while (end < n - 1 && isSlow(end) === slow) end++;
    runs.push({ from: i, to: end, slow });
    i = end;
  }
  // A delta at index i lies between the frames i and i + 1.
  const slowDelta = new Uint8Array(n - 1);
  for (const { from, to, slow } of runs) if (slow && to - from >= SLOW_RUN) slowDelta.fill(1, from, to);
  if (!slowDelta.includes(1)) return null;
  const frames: number[] = [];
  const breaks: number[] = [];
  for (let i = 0; i < n; ) {
    let end = i;
    while (end < n - 1 && slowDelta[end] === 0) end++;
    if (end - i + 1 >= FAST_RUN) {
      if (frames.length > 0) breaks.push(frames.length);
      for (let k = i; k <= end; k++) frames.push(k);
    }
    i = end + 1;
  }
  if (frames.length === 0) return null;
  return { frames: Uint32Array.from(frames), breaks, slowFrames: n - frames.length };
}

/** Period of the fastest stretch of frames: the least mean over a window, then the mean of the deltas like it. */
function fastPeriod(ticks: Float64Array): number {
  const windows = ticks.length - FAST_RUN;
  let least = Number.POSITIVE_INFINITY;
  for (let i = 0; i < windows; i++) least = Math.min(least, ticks[i + FAST_RUN]! - ticks[i]!);
  const first = least / FAST_RUN;
  let sum = 0;
  let count = 0;
  for (let i = 1; i < ticks.length; i++) {
    const delta = ticks[i]! - ticks[i - 1]!;
    if (delta < 0.5 * first || delta > Math.max(SLOW_FROM * first, first + 1)) continue;
    sum += delta;
    count++;
  }
  return count > 0 ? sum / count : Math.max(1, first);
}
