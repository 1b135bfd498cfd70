/** What a picture track's own list of times says: which frames are shown, and how fast they follow each other. */
import type { Boxes, Track } from './boxes.js';
import { findFastParts } from './fastParts.js';
import { fitFrameGrid } from './frameGrid.js';
import { describeEdits } from './trackFacts.js';

/** The times of a track's frames. */
export interface TrackTimes {
  readonly edits: ReturnType<typeof describeEdits>;
  /** Of the frames that are shown, see `rateOf`; null where the track has no clock. */
  readonly rateHz: number | null;
}

/** The times of a track; without one, or where its list is not all of it, of no frames. */
export function trackTimes(boxes: Boxes | null, track: Track | null): TrackTimes {
  const listed = boxes?.fragmented ? null : track;
  const edits = describeEdits(listed, boxes?.movieTimescale ?? 0);
  return { edits, rateHz: listed?.timescale ? rateOf(edits.shownTicks, listed.timescale) : null };
}

/** The one picture track, which FFmpeg must mean, too; null where there are several or none. */
export function onlyPictureTrack(boxes: Boxes | null): Track | null {
  const [first, second] = boxes?.tracks.filter(({ handler }) => handler === 'vide') ?? [];
  return first && !second ? first : null;
}

/** Rate of the frames with gaps taken out, of the fastest part where the rate changes; null without times. */
export function rateOf(ticks: Float64Array, ticksPerSecond: number): number | null {
  if (ticks.length < 2) return null;
  const fast = findFastParts(ticks);
  const grid = fast
    ? fitFrameGrid(
        Float64Array.from(fast.frames, (k) => ticks[k]!),
        fast.breaks,
      )
    : fitFrameGrid(ticks);
  const rateHz = grid === null ? 0 : ticksPerSecond / grid.periodTicks;
  return rateHz > 0 && Number.isFinite(rateHz) ? rateHz : null;
}
