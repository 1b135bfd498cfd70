/**
 * When each frame was captured: media ticks to capture seconds, with the evidence for the scale.
 * Two clocks: `mediaS` is what a player shows, `capturedAtS` what the camera lived through.
 */
import type { ClipFacts } from './frameSource.js';

/** Where the capture rate was taken from, strongest first. */
export type RateSource = 'stated' | 'light' | 'tag' | 'timestamps';

/** The capture clock of one clip. */
export interface CaptureClock {
  readonly known: true;
  /** One entry a frame, seconds from the first frame's timestamp, on the camera's clock. */
  readonly capturedAtS: Float64Array;
  /** True rate while filming, Hz (nominal snapped where the evidence agrees). */
  readonly captureRateHz: number;
  /** 1 / captureRateHz. */
  readonly periodS: number;
  readonly source: RateSource;
  /** capture seconds per media second. */
  readonly scale: number;
  /** Periods missing before each frame (0 = none); entry 0 is 0. */
  readonly missingBefore: Uint16Array;
  readonly droppedFrames: number;
  /** Resolution of the timestamps on the capture clock, s. */
  readonly tickS: number;
  /** RMS distance of the timestamps from an even grid, s, after gaps are taken out. */
  readonly irregularityS: number;
  /** Relative standard uncertainty of the rate. */
  readonly rateUncertaintyRel: number;
  readonly warnings: readonly string[];
}

/** No clock: the clip does not say how fast it was filmed. The sentence tells what to do. */
export interface UnknownClock {
  readonly known: false;
  /** Rate of the media timestamps, Hz. */
  readonly mediaRateHz: number;
  readonly reason: string;
  readonly warnings: readonly string[];
}

/** What `resolveCaptureClock` decides from. */
export interface ClockEvidence {
  readonly facts: Pick<ClipFacts, 'timeBase' | 'captureRateTagHz' | 'editList'>;
  readonly ptsTicks: Float64Array;
  /** The user's own statement of the capture rate, Hz. */
  readonly statedRateHz?: number | null;
}
