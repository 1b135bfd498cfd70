/** The record of a clip as it lies beside it, checked against the clip. */
import { basename } from 'node:path';
import { AnalysisError, UsageError } from '../errors.js';
import { readIfThere } from '../record/files.js';
import type { ClipRecord } from '../record/record.js';

/**
 * Reads a record file; null where there is none.
 * @throws AnalysisError `record-invalid` where it is no record of this version.
 */
export async function readStoredRecord(path: string): Promise<ClipRecord | null> {
  const text = await readIfThere(path);
  if (text === null) return null;
  const refuse = (why: string) =>
    new AnalysisError(
      'record-invalid',
      `${basename(path)} ${why}: measure the clip again with lagreel measure`,
    );
  let record: ClipRecord;
  try {
    record = JSON.parse(text.replace(/^\ufeff/, '')) as ClipRecord;
  } catch {
    throw refuse('is not JSON');
  }
  if (record?.format !== 'lagreel-record') throw refuse('is no record of lagreel');
  if (record.version !== 1) throw refuse(`has the version ${String(record.version)}, this lagreel reads 1`);
  const whole =
    Array.isArray(record.presses) &&
    Array.isArray(record.recipe?.regions) &&
    typeof record.clip?.sha256 === 'string' &&
    typeof record.timing?.captureRateHz === 'number' &&
    typeof record.summary === 'object';
  if (!whole) throw refuse('is not whole');
  return record;
}

/**
 * Makes sure that a record belongs to a clip.
 * @throws UsageError where it is of another one.
 */
export function checkOwner(
  record: ClipRecord,
  path: string,
  clip: { readonly file: string; readonly sha256: string },
) {
  if (record.clip.sha256 === clip.sha256) return;
  throw new UsageError(
    `${basename(path)} is the record of another clip (${record.clip.file}, sha256 ${record.clip.sha256.slice(0, 12)}…), ` +
      `not of ${clip.file} (${clip.sha256.slice(0, 12)}…): name the right one with --record, or measure the clip again`,
  );
}
