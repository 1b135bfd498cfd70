/**
 * When each frame was captured: media ticks to capture seconds, with the evidence for the scale.
 * Two clocks: `mediaS` is what a player shows, `capturedAtS` what the camera lived through.
 */
import { ticksToSeconds } from '../units.js';
import type { Remark } from './clipRemarks.js';
import { gridRemarks, pictureRemarks, rateText, speedRemark } from './clockRemarks.js';
import { findFastParts } from './fastParts.js';
import { fitFrameGrid } from './frameGrid.js';
import type { ClipFacts } from './frameSource.js';
import type { PictureVerdict } from './pictureCadence.js';
import { decideRate, type RateSource } from './rateDecision.js';

/** The capture clock of one clip. */
export interface CaptureClock {
  readonly known: true;
  /** One entry a used frame, seconds from the first used frame's timestamp, on the camera's clock. */
  readonly capturedAtS: Float64Array;
  /** Indices of the frames that are used; null where all are. Everything else here counts used frames. */
  readonly usedFrames: Uint32Array | null;
  /** Used frames at which a stretch without interruption begins; the first is 0. Nothing is timed across. */
  readonly stretchStarts: readonly number[];
  /** Frames that are copies or blends of others. */
  readonly madeFrames: number;
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
  /** How the time is known, one sentence each. */
  readonly remarks: readonly Remark[];
  readonly warnings: readonly string[];
}

/** No clock: the clip does not say how fast it was filmed. The sentence tells what to do. */
export interface UnknownClock {
  readonly known: false;
  /** Rate of the media timestamps, Hz. */
  readonly mediaRateHz: number;
  readonly reason: string;
  readonly remarks: readonly Remark[];
  readonly warnings: readonly string[];
}

/** What `resolveCaptureClock` decides from. */
export interface ClockEvidence {
  readonly facts: Pick<ClipFacts, 'timeBase' | 'captureRateTagHz' | 'editList'>;
  readonly ptsTicks: Float64Array;
  /** The user's own statement of the capture rate, Hz. */
  readonly statedRateHz?: number | null;
  /** What the pictures say about themselves; copies and blends are then left out. */
  readonly pictures?: PictureVerdict;
  /** Use the fast parts only, where the clip changes its rate; the caller then follows `usedFrames`. */
  readonly fastPartsOnly?: boolean;
}

/** A named rate this near the measured one is the same rate, relative; beyond it the measured one is kept. */
const SNAP_REL = 2e-4;
/** No camera stores frames at another rate, and none records for longer: then the file's clock is damaged. */
const FILE_RATES_HZ = [5, 4000] as const;
const LONGEST_S = 7 * 86_400;
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
  const { facts, ptsTicks: allTicks, pictures } = evidence;
  const timed = allTicks.length >= 2 && allTicks.every(Number.isFinite);
  const parts = timed && evidence.fastPartsOnly ? findFastParts(allTicks) : null;
  const ptsTicks = parts ? Float64Array.from(parts.frames, (k) => allTicks[k]!) : allTicks;
  const grid = timed ? fitFrameGrid(ptsTicks, parts?.breaks) : null;
  if (grid === null) {
    const reason =
      'The frames carry no usable times, so no milliseconds can be given: give the unmodified original.';
    return {
      known: false,
      mediaRateHz: 0,
      reason,
      remarks: [{ code: 'no-times', text: reason }],
      warnings: [],
    };
  }
  const tickMediaS = ticksToSeconds(1, facts.timeBase);
  const mediaRateHz = 1 / (grid.periodTicks * tickMediaS);
  const spanS = (ptsTicks.at(-1)! - ptsTicks[0]!) * tickMediaS;
  // Asked the right way round, since wild timestamps can make a rate that is no number.
  if (!(mediaRateHz >= FILE_RATES_HZ[0] && mediaRateHz <= FILE_RATES_HZ[1] && spanS <= LONGEST_S)) {
    const what =
      spanS > LONGEST_S
        ? `its frames span ${Math.round(spanS / 86_400)} days`
        : `its frames come at ${rateText(mediaRateHz)} fps`;
    const reason = `The clip's clock is damaged (${what}), so no milliseconds can be given: give the unmodified original.`;
    return {
      known: false,
      mediaRateHz,
      reason,
      remarks: [{ code: 'clock-damaged', text: reason }],
      warnings: [],
    };
  }
  const every = pictures?.every ?? 1;
  const decision = decideRate(mediaRateHz, facts.captureRateTagHz, evidence.statedRateHz ?? null, every);
  const shape = gridRemarks(grid, parts);
  if (decision.scale === null) {
    return {
      known: false,
      mediaRateHz,
      reason: decision.reason,
      remarks: [{ code: 'rate-unknown', text: decision.reason }, ...shape],
      warnings: [...decision.warnings, ...shape.map(({ text }) => text)],
    };
  }

  const { scale, namedHz } = decision;
  const measuredHz = mediaRateHz / scale;
  const nominalHz = nearestNominalHz(measuredHz);
  const sameAs = (rateHz: number) =>
    Math.abs(measuredHz / rateHz - 1) <= Math.max(SNAP_REL, 3 * grid.periodErrorRel);
  const storedRateHz =
    sameAs(namedHz) && namedHz !== mediaRateHz ? namedHz : sameAs(nominalHz) ? nominalHz : measuredHz;
  const captureRateHz = storedRateHz / every;

  const stepTicks = grid.latticeTicks;
  const rounded = stepTicks > grid.periodTicks / 10 && grid.maxTicks <= stepTicks && grid.pauses.length === 0;
  const stepMs = (stepTicks * tickMediaS * scale * 1000).toFixed(2);
  const rounding: Remark[] =
    stepTicks <= grid.periodTicks / 10
      ? []
      : [
          {
            code: 'rounded-times',
            text: rounded
              ? `The file rounds its times to ${stepMs} ms; they fit an even grid, so the grid's times are used.`
              : `The file rounds its times to ${stepMs} ms, which limits every reading.`,
          },
        ];
  const source = rounded ? grid.fittedTicks : ptsTicks;
  const used = withoutMade(ptsTicks.length, parts?.frames ?? null, pictures);
  const start = source[used[0]!]!;
  // A line through n rounded times is known to about 2 rms / sqrt(n) at its ends.
  const resolutionMediaS = Math.max(
    stepTicks * tickMediaS * (rounded ? 2 / Math.sqrt(ptsTicks.length) : 1),
    facts.captureRateTagHz === null ? 0 : ANDROID_MERGE_S,
  );
  const remarks = [...shape, ...rounding, ...pictureRemarks(pictures, captureRateHz)];
  return {
    known: true,
    capturedAtS: Float64Array.from(used, (k) => ticksToSeconds((source[k]! - start) * scale, facts.timeBase)),
    usedFrames: used.length === allTicks.length ? null : parts ? used.map((k) => parts.frames[k]!) : used,
    stretchStarts: [
      0,
      ...new Set(grid.pauses.map((k) => used.findIndex((u) => u >= k)).filter((k) => k > 0)),
    ],
    madeFrames: ptsTicks.length - used.length,
    captureRateHz,
    periodS: 1 / captureRateHz,
    source: decision.source,
    scale,
    missingBefore: missingBetween(used, grid.missingBefore, every),
    droppedFrames: grid.droppedFrames,
    tickS: resolutionMediaS * scale,
    irregularityS: grid.rmsTicks * tickMediaS * scale,
    rateUncertaintyRel: Math.hypot(decision.uncertaintyRel, grid.periodErrorRel),
    remarks: [speedRemark(scale, decision.source, mediaRateHz), ...remarks],
    warnings: [...decision.warnings, ...remarks.map(({ text }) => text)],
  };
}

/** Positions that remain when copies and blends are left out. */
function withoutMade(
  count: number,
  frames: Uint32Array | null,
  pictures: PictureVerdict | undefined,
): Uint32Array {
  const all = Uint32Array.from({ length: count }, (_, k) => k);
  if (pictures === undefined || pictures.madeFrames === 0) return all;
  return all.filter((k) => pictures.made[frames?.[k] ?? k] === 0);
}

/** True captures missing before each used frame. */
function missingBetween(used: Uint32Array, missingBefore: Uint16Array, every: number): Uint16Array {
  const numbers = new Float64Array(missingBefore.length);
  for (let k = 1; k < numbers.length; k++) numbers[k] = numbers[k - 1]! + 1 + missingBefore[k]!;
  return Uint16Array.from(used, (k, i) => {
    if (i === 0) return 0;
    const periods = (numbers[k]! - numbers[used[i - 1]!]!) / every;
    return Math.min(65_535, Math.max(0, Math.round(periods) - 1));
  });
}

/** The nearest of the rates at which cameras film, Hz. */
function nearestNominalHz(rateHz: number): number {
  const rates = [24, 25, 30, 50, 60, 90, 100, 120, 200, 240, 300, 400, 480, 500, 600, 960, 1000, 1920];
  return rates.reduce((best, rate) => (Math.abs(rate - rateHz) < Math.abs(best - rateHz) ? rate : best));
}
