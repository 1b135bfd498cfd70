/** Is this clip fit to measure? Facts, clock and fitness of one clip, without a single latency. */
import { resolveCaptureClock, type UnknownClock } from './clip/captureClock.js';
import { clipRemarks, type Remark } from './clip/clipRemarks.js';
import type { ClipFacts, FrameSource } from './clip/frameSource.js';
import { AnalysisError } from './errors.js';
import { type MeasureOptions, measureClip } from './measure.js';
import type { Recipe } from './record/recipe.js';
import type { ClipRecord } from './record/record.js';
import type { Region } from './region/region.js';

/** What `inspect` finds out. */
export interface Inspection {
  readonly format: 'lagreel-inspection';
  readonly version: 1;
  readonly clip: Omit<ClipFacts, 'warnings'>;
  /** null where the clip does not say how fast it was filmed. */
  readonly timing: ClipRecord['timing'] | null;
  /** Rate of the media timestamps, Hz. */
  readonly mediaRateHz: number | null;
  readonly frames: number;
  readonly regions: readonly Region[];
  readonly presses: number;
  readonly fitness: ClipRecord['fitness'];
  /** How the time is known and what stands out in the file, one plain sentence each. */
  readonly remarks: readonly Remark[];
  readonly warnings: readonly string[];
}

/** Inspects a clip: measures it where that is possible and reports on the evidence, never on latencies. */
export async function inspectClip(
  source: FrameSource,
  recipe: Recipe,
  options: MeasureOptions = {},
): Promise<Inspection> {
  const { warnings: factWarnings, ...clip } = source.facts;
  const base = { format: 'lagreel-inspection', version: 1, clip } as const;
  const fileRemarks = clipRemarks(source.facts);
  try {
    const { record, recipe: full, timeRemarks } = await measureClip(source, recipe, options);
    return {
      ...base,
      timing: record.timing,
      mediaRateHz: source.facts.nominalRateHz,
      frames: record.clip.frames,
      regions: full.regions,
      presses: record.presses.length,
      fitness: record.fitness,
      remarks: [...timeRemarks, ...fileRemarks],
      warnings: record.warnings,
    };
  } catch (error) {
    const expectedCodes = ['rate-unknown', 'nothing-measurable'];
    if (!(error instanceof AnalysisError) || !expectedCodes.includes(error.code)) throw error;
    const timing = await timingOnly(source, recipe, options, error.details.clock as UnknownClock | undefined);
    return {
      ...base,
      ...timing,
      regions: recipe.regions,
      presses: 0,
      fitness: {
        class: 'unfit',
        reasons: [{ code: error.code, severity: 'unfit', text: `${error.message}.` }],
      },
      remarks: [...timing.remarks, ...fileRemarks],
      warnings: [...factWarnings, ...timing.warnings],
    };
  }
}

/**
 * Reads the timestamps alone: one pass over a few pixels.
 * @param unknown what the whole measurement knows better, having looked at the pictures too.
 */
async function timingOnly(
  source: FrameSource,
  recipe: Recipe,
  options: MeasureOptions,
  unknown: UnknownClock | undefined,
): Promise<Pick<Inspection, 'timing' | 'mediaRateHz' | 'frames' | 'remarks' | 'warnings'>> {
  const times = await source.readRects([{ x: 0, y: 0, width: 2, height: 2 }], () => undefined, {
    ...(options.signal ? { signal: options.signal } : {}),
  });
  const resolved = resolveCaptureClock({
    facts: source.facts,
    ptsTicks: times.ptsTicks,
    statedRateHz: recipe.capture.rateHz,
    fastPartsOnly: true,
  });
  const clock = unknown ?? resolved;
  const { remarks, warnings } = clock;
  const frames = clock.known ? clock.capturedAtS.length : times.ptsTicks.length;
  if (!clock.known) return { timing: null, mediaRateHz: clock.mediaRateHz, frames, remarks, warnings };
  return {
    frames,
    mediaRateHz: source.facts.nominalRateHz,
    remarks,
    warnings,
    timing: {
      captureRateHz: clock.captureRateHz,
      source: clock.source,
      timeBase: [source.facts.timeBase[0], source.facts.timeBase[1]],
      droppedFrames: clock.droppedFrames,
      doubledFrames: 0,
      exposureFraction: null,
      exposureFractionInterval: null,
      exposureSource: 'assumed',
      readoutFraction: recipe.capture.readoutFraction,
      readoutSource: 'unknown',
      tickMs: clock.tickS * 1000,
      irregularityMs: clock.irregularityS * 1000,
    },
  };
}
