/** One clip of a `measure` call: passed over where it was finished before, else measured. The same in every process. */
import {
  type CameraCalibration,
  finishedRecord,
  type MeasureFileOptions,
  measureFile,
  type SessionClip,
  withSession,
} from '../node.js';
import { type ClipFiles, clipFiles } from '../record/files.js';
import type { ClipRecord } from '../record/record.js';
import { keptResultsOf } from './cacheCommand.js';
import { type ClipOptions, overlayOptions, recipePathOf } from './options.js';
import { describeError, isExpected, progressLine, type Terminal } from './terminal.js';

/** Options of `measure` beside those that describe the clip. */
export interface MeasureCommandOptions extends ClipOptions {
  readonly out?: string;
  readonly camera?: string;
  readonly updateRecipe?: boolean;
  /** A path; false for `--no-session`. Commander gives true where neither was said. */
  readonly session?: string | boolean;
  readonly jobs?: number;
  readonly again?: boolean;
  readonly cache?: boolean;
  readonly json?: boolean;
  readonly quiet?: boolean;
}

/** What holds for all clips of a call; plain data, so that it can be sent to a worker. */
export interface MeasureSettings {
  readonly options: MeasureCommandOptions;
  readonly camera: CameraCalibration | null;
}

/** One clip to measure. */
export interface ClipJob {
  readonly clip: string;
  /** Its row of the session table. */
  readonly row?: SessionClip;
  /** Passes over a clip whose results are there and would come out the same. */
  readonly resume: boolean;
}

/** A clip whose results are there. */
export interface ClipDone {
  readonly record: ClipRecord;
  readonly files: ClipFiles;
  readonly recipeWritten: boolean;
  /** Measured before, and left as it is. */
  readonly skipped: boolean;
}

/** A clip that gave no result, in one sentence. */
export interface ClipFailed {
  readonly error: string;
  readonly exitCode: number;
}

/**
 * Measures one clip, or finds that it needs no measuring.
 * @param run `quiet`: without a progress line, since several would draw over each other.
 * @throws the signal's reason when stopped; what is a fault of lagreel.
 */
export async function measureOne(
  { clip, row, resume }: ClipJob,
  { options, camera }: MeasureSettings,
  terminal: Terminal,
  { signal, quiet }: { readonly signal: AbortSignal; readonly quiet: boolean },
): Promise<ClipDone | ClipFailed> {
  const progress = progressLine(terminal, { quiet: quiet || (options.quiet ?? false), file: clip });
  const { ways, written } = keptResultsOf(options, terminal);
  const request: MeasureFileOptions = {
    ...recipePathOf(options),
    ...(options.out !== undefined ? { outFolder: options.out } : {}),
    ...(camera ? { camera } : {}),
    ...ways,
    updateRecipe: options.updateRecipe ?? false,
    adjustRecipe: (recipe) => overlayOptions(withSession(recipe, row), options),
    signal,
    onProgress: ({ stage, framesDone, framesTotal }) => progress.update(stage, framesDone, framesTotal),
  };
  try {
    const before = resume ? await finishedRecord(clip, request) : null;
    if (before !== null) {
      return { record: before, files: clipFiles(clip, options.out), recipeWritten: false, skipped: true };
    }
    const { measurement, files, recipeWritten } = await measureFile(clip, request).finally(async () => {
      progress.clear();
      await written();
    });
    return { record: measurement.record, files, recipeWritten, skipped: false };
  } catch (error) {
    // The other clips go on, unless the person stopped the run or lagreel itself is at fault.
    if (signal.aborted || !isExpected(error)) throw error;
    const { text, exitCode } = describeError(error, clip);
    return { error: text, exitCode };
  }
}
