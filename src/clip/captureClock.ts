/**
 * When each frame was captured: media ticks to capture seconds, with the evidence for the scale.
 * Two clocks: `mediaS` is what a player shows, `capturedAtS` what the camera lived through.
 */
import { ticksToSeconds } from '../units.js';
import { type FrameGrid, fitFrameGrid } from './frameGrid.js';
import type { ClipFacts } from './frameSource.js';
import { decideRate, type RateSource } from './rateDecision.js';

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

/** A named rate this near the measured one is the same rate, relative; beyond it the measured one is kept. */
const SNAP_REL = 2e-4;
/** Android's muxer replaces a delta that differs by less than this from the one before, s of the file. */
const ANDROID_MERGE_S = 1e-4;

/**
 * Resolves when each frame was captured. Every time comes from the frame's own timestamp; only where the clock of
 * the file is so coarse that timestamps are rounded to a visible step, and they hide nothing but an even grid, the
 * grid's line is used instead (and said).
 * @returns an `UnknownClock` where the evidence does not give the speed; its `reason` asks for what is missing.
 * @throws UsageError where the stated rate makes no sense with this file.
 */
export function resolveCaptureClock(evidence: ClockEvidence): CaptureClock | UnknownClock {
  const { facts, ptsTicks } = evidence;
  const grid = ptsTicks.length >= 2 && ptsTicks.every(Number.isFinite) ? fitFrameGrid(ptsTicks) : null;
  if (grid === null) {
    return {
      known: false,
      mediaRateHz: 0,
      reason:
        'The frames carry no usable times, so no milliseconds can be given: give the unmodified original.',
      warnings: [],
    };
  }
  const tickMediaS = ticksToSeconds(1, facts.timeBase);
  const mediaRateHz = 1 / (grid.periodTicks * tickMediaS);
  const decision = decideRate(mediaRateHz, facts.captureRateTagHz, evidence.statedRateHz ?? null);
  const warnings = [...decision.warnings, ...gridWarnings(grid)];
  if (decision.scale === null) return { known: false, mediaRateHz, reason: decision.reason, warnings };

  const { scale, namedHz } = decision;
  const measuredHz = mediaRateHz / scale;
  const nominalHz = nearestNominalHz(measuredHz);
  const sameAs = (rateHz: number) =>
    Math.abs(measuredHz / rateHz - 1) <= Math.max(SNAP_REL, 3 * grid.periodErrorRel);
  const captureRateHz =
    sameAs(namedHz) && namedHz !== mediaRateHz ? namedHz : sameAs(nominalHz) ? nominalHz : measuredHz;

  const stepTicks = grid.latticeTicks;
  const rounded = stepTicks > grid.periodTicks / 10 && grid.maxTicks <= stepTicks && grid.pauses.length === 0;
  if (rounded) {
    const stepMs = (stepTicks * tickMediaS * scale * 1000).toFixed(2);
    warnings.push(
      `The file rounds its times to ${stepMs} ms; they fit an even grid, so the grid's times are used.`,
    );
  } else if (stepTicks > grid.periodTicks / 10) {
    const stepMs = (stepTicks * tickMediaS * scale * 1000).toFixed(2);
    warnings.push(`The file rounds its times to ${stepMs} ms, which limits every reading.`);
  }
  const source = rounded ? grid.fittedTicks : ptsTicks;
  const capturedAtS = Float64Array.from(source, (tick) =>
    ticksToSeconds((tick - source[0]!) * scale, facts.timeBase),
  );
  // A line through n rounded times is known to about 2 rms / sqrt(n) at its ends.
  const resolutionMediaS = Math.max(
    stepTicks * tickMediaS * (rounded ? 2 / Math.sqrt(ptsTicks.length) : 1),
    facts.captureRateTagHz === null ? 0 : ANDROID_MERGE_S,
  );
  return {
    known: true,
    capturedAtS,
    captureRateHz,
    periodS: 1 / captureRateHz,
    source: decision.source,
    scale,
    missingBefore: grid.missingBefore,
    droppedFrames: grid.droppedFrames,
    tickS: resolutionMediaS * scale,
    irregularityS: grid.rmsTicks * tickMediaS * scale,
    rateUncertaintyRel: Math.hypot(decision.uncertaintyRel, grid.periodErrorRel),
    warnings,
  };
}

/** The nearest of the rates at which cameras film, Hz. */
function nearestNominalHz(rateHz: number): number {
  const rates = [24, 25, 30, 50, 60, 90, 100, 120, 200, 240, 300, 400, 480, 500, 600, 960, 1000, 1920];
  return rates.reduce((best, rate) => (Math.abs(rate - rateHz) < Math.abs(best - rateHz) ? rate : best));
}

function gridWarnings(grid: FrameGrid): string[] {
  const warnings: string[] = [];
  const frames = grid.missingBefore.length;
  if (grid.droppedFrames > 0) {
    const share = ((100 * grid.droppedFrames) / (frames + grid.droppedFrames)).toFixed(1);
    warnings.push(
      `${grid.droppedFrames} camera frames are missing in ${grid.gaps} gaps (${share} %); readings beside a gap are less certain.`,
    );
  }
  if (grid.pauses.length > 0) {
    warnings.push(
      `The recording pauses ${grid.pauses.length} times (before frame ${grid.pauses.slice(0, 5).join(', ')}); nothing can be timed across a pause.`,
    );
  }
  if (grid.periodTicks < 1.2) {
    warnings.push(
      'The file\u2019s clock ticks hardly faster than its frames come, so the rate and missing frames are uncertain: use the unmodified original.',
    );
  }
  if (grid.backward > 0) {
    warnings.push(`${grid.backward} frames have a time that is not after the frame before them.`);
  }
  if (grid.rmsTicks > Math.max(grid.periodTicks / 4, 1)) {
    warnings.push(
      `The frames are timed unevenly (${((100 * grid.rmsTicks) / grid.periodTicks).toFixed(0)} % of a period RMS); each frame's own time is used.`,
    );
  }
  return warnings;
}
