/** Records and comparisons as they lie on disk, for films, cards and boards. */
import { basename } from 'node:path';
import { AnalysisError, UsageError } from '../errors.js';
import type { Comparison } from '../record/comparison.js';
import { parseComparison } from '../record/comparisonSchema.js';
import { readIfThere } from '../record/files.js';
import { parseRecord } from '../record/parseRecord.js';
import type { ClipRecord } from '../record/record.js';

/**
 * Reads a record file; null where there is none.
 * @throws AnalysisError `record-invalid` where it is no record of this version.
 */
export async function readStoredRecord(path: string): Promise<ClipRecord | null> {
  const text = await readIfThere(path);
  return text === null ? null : parseRecord(text, basename(path));
}

/** A record, or a comparison with its kind told. */
export type Stored =
  | { readonly kind: 'record'; readonly record: ClipRecord }
  | { readonly kind: 'comparison'; readonly comparison: Comparison };

/**
 * Reads a file that is a record or a comparison, whichever its `format` says.
 * @throws AnalysisError `record-invalid` where there is none, or it is neither.
 */
export async function readStored(path: string): Promise<Stored> {
  const text = await readIfThere(path);
  if (text === null) throw new AnalysisError('record-invalid', `there is no file ${path}: check the path`);
  const isComparison = /"format"\s*:\s*"lagreel-comparison"/.test(text);
  return isComparison
    ? { kind: 'comparison', comparison: parseComparison(text, basename(path)) }
    : { kind: 'record', record: parseRecord(text, basename(path)) };
}

/**
 * Makes sure that a record belongs to a clip.
 * @throws UsageError where it is of another one.
 */
export function checkOwner(
  record: ClipRecord,
  path: string,
  clip: { readonly file: string; readonly sha256: string },
): void {
  if (record.clip.sha256 === clip.sha256) return;
  throw new UsageError(
    `${basename(path)} is the record of another clip (${record.clip.file}, sha256 ${record.clip.sha256.slice(0, 12)}…), ` +
      `not of ${clip.file} (${clip.sha256.slice(0, 12)}…): name the right one with --record, or measure the clip again`,
  );
}
