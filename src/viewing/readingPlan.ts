/** Which frames to read for somebody who has come to a frame by a step: what they will ask for next. Pure. */

/** Frames that one reading gives. */
export interface ReadingPlan {
  /** First frame to read. */
  readonly first: number;
  /** Read up to here for now, inclusive. */
  readonly until: number;
  /** Frames from one wanted picture to the next; below 0 backwards. */
  readonly step: number;
  /** The frames that are read, ascending; null: all from `first` on, as long as somebody goes on. */
  readonly only: readonly number[] | null;
  /** True for a frame that this reading can give. */
  readonly gives: (index: number) => boolean;
  /** True where it comes to a frame soon, being at frame `at`. */
  readonly reaches: (index: number, at: number) => boolean;
}

/** Forwards, all frames: so many ahead. */
const AHEAD = 30;
/** Backwards, all frames: so many in one reading (it begins at a key frame anyway). */
const BACK = 48;
/** In larger steps: so many pictures in one reading. */
const LEAPS = 12;
/** Going on to a frame this far ahead is quicker than a new start. */
const REACH = 12;
/** Between these, a step is a habit; a larger one is a jump. */
const LEAP = [3, 24] as const;

/** The step by which a frame was reached: 1 where it was a jump. */
export function stepOf(last: number | null, index: number): number {
  if (last === null) return 1;
  const step = index - last;
  const size = Math.abs(step);
  if (size >= LEAP[0] && size <= LEAP[1]) return step;
  return step < 0 && size < LEAP[0] ? -1 : 1;
}

/** A reading is begun anew where fewer pictures than this are left on the way. */
export function aheadSteps(step: number): number {
  if (Math.abs(step) > 1) return 5;
  return step > 0 ? AHEAD / 2 : 20;
}

/**
 * The reading for a frame.
 * @param index the frame that is wanted now.
 * @param step as of `stepOf`.
 * @param frames number of frames of the clip.
 */
export function planReading(index: number, step: number, frames: number): ReadingPlan {
  if (step === 1) {
    const until = Math.min(frames - 1, index + AHEAD);
    return {
      first: index,
      until,
      step,
      only: null,
      gives: (k) => k >= index,
      reaches: (k, at) => k - at <= REACH,
    };
  }
  const count = step === -1 ? BACK : LEAPS;
  const only: number[] = [];
  for (let n = 0, k = index; n < count && k >= 0 && k < frames; n++, k += step) only.push(k);
  only.sort((a, b) => a - b);
  const all = new Set(only);
  const gives = (k: number) => all.has(k);
  return { first: only[0]!, until: only.at(-1)!, step, only, gives, reaches: gives };
}
