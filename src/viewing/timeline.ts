/** When every frame of a clip was captured, those that are not measured from included, on the record's own zero. */
import { type CaptureClock, resolveCaptureClock } from '../clip/captureClock.js';
import type { ClipFacts } from '../clip/frameSource.js';
import { ticksToSeconds } from '../units.js';

/** The times of all frames, in presentation order. */
export interface Timeline {
  /** s on the capture clock; where that is unknown, s as a player shows them, from the first frame. */
  readonly capturedAtS: Float64Array;
  /** Indices of the frames that are measured from, ascending; null where all are. */
  readonly usedFrames: Uint32Array | null;
  /** null where the clip does not say how fast it was filmed. */
  readonly captureRateHz: number | null;
  /** Where the clock is unknown: what is missing, one sentence. */
  readonly reason: string | null;
  /** How the time is known, one sentence each. */
  readonly remarks: readonly string[];
}

/**
 * The timeline of a clip.
 * @param ptsTicks times of all frames, ticks.
 * @param measured the clock of a measurement, where there is one: its pictures told which frames are copies.
 * @throws UsageError where the stated rate makes no sense with this file.
 */
export function timelineOf(
  facts: ClipFacts,
  ptsTicks: Float64Array,
  statedRateHz: number | null,
  measured?: CaptureClock,
): Timeline {
  const clock = measured ?? resolveCaptureClock({ facts, ptsTicks, statedRateHz, fastPartsOnly: true });
  const remarks = clock.remarks.map((remark) => remark.text);
  const sinceS = (zero: number, scale: number) =>
    ptsTicks.map((tick) => ticksToSeconds(tick - zero, facts.timeBase) * scale);
  if (!clock.known) {
    return {
      capturedAtS: sinceS(ptsTicks[0] ?? 0, 1),
      usedFrames: null,
      captureRateHz: null,
      reason: clock.reason,
      remarks,
    };
  }
  const { usedFrames, captureRateHz } = clock;
  if (usedFrames === null)
    return { capturedAtS: clock.capturedAtS, usedFrames, captureRateHz, reason: null, remarks };
  const capturedAtS = sinceS(ptsTicks[usedFrames[0]!]!, clock.scale);
  usedFrames.forEach((k, i) => {
    capturedAtS[k] = clock.capturedAtS[i]!;
  });
  return { capturedAtS, usedFrames, captureRateHz, reason: null, remarks };
}
