/** A folder of clips and records, measured again one by one; a bad clip does not stop the others. */
import { basename } from 'node:path';
import { clipsIn, filesIn } from '../clip/clipFolder.js';
import { AnalysisError, UsageError } from '../errors.js';
import { type ClipCheck, type RecheckOptions, recheckClip } from './recheckClip.js';

/** A record whose clip could not be measured again. */
export interface FailedCheck {
  readonly record: string;
  /** One sentence. */
  readonly error: string;
  readonly exitCode: number;
}

/** The answer on a folder. */
export interface FolderCheck {
  readonly format: 'lagreel-recheck';
  readonly version: 1;
  /** How far a number may move, as a share of its standard uncertainty. */
  readonly tolerance: number;
  readonly clips: readonly ClipCheck[];
  readonly failed: readonly FailedCheck[];
  /** Clips that have no record yet; base names. */
  readonly unmeasured: readonly string[];
}

/** How to go through a folder. */
export interface FolderRecheckOptions extends RecheckOptions {
  /** Called before each record. */
  readonly onClip?: (recordPath: string) => void;
}

/**
 * Measures every archived clip of a folder again.
 * @param folder the records' folder; the clips stand there, too, unless `clipFolder` says otherwise.
 * @throws AnalysisError `record-invalid` where the folder holds no record; the signal's reason when stopped.
 */
export async function recheckFolder(folder: string, options: FolderRecheckOptions): Promise<FolderCheck> {
  const records = await filesIn(folder, (name) => name.endsWith('.record.json'));
  if (records.length === 0) {
    throw new AnalysisError(
      'record-invalid',
      `there is no record in the folder ${folder}: measure its clips first, or name the folder of NAME.record.json`,
    );
  }
  const clips: ClipCheck[] = [];
  const failed: FailedCheck[] = [];
  for (const path of records) {
    options.signal?.throwIfAborted();
    options.onClip?.(path);
    try {
      clips.push(await recheckClip(path, options));
    } catch (error) {
      if (options.signal?.aborted) throw options.signal.reason;
      if (!(error instanceof UsageError || error instanceof AnalysisError)) throw error;
      failed.push({ record: basename(path), error: error.message, exitCode: error.exitCode });
    }
  }
  return {
    format: 'lagreel-recheck',
    version: 1,
    tolerance: options.tolerance,
    clips,
    failed,
    unmeasured: await unmeasuredIn(options.clipFolder ?? folder, records),
  };
}

/** Clips without a record. A folder whose clips are all gone has none; its records have failed by then. */
async function unmeasuredIn(folder: string, records: readonly string[]): Promise<readonly string[]> {
  const measured = new Set(records.map((path) => basename(path).replace(/\.record\.json$/, '')));
  const clips = await clipsIn(folder).catch((error: unknown) => {
    if (error instanceof AnalysisError) return [];
    throw error;
  });
  return clips.map((path) => basename(path)).filter((name) => !measured.has(name.replace(/\.[^.]+$/, '')));
}
