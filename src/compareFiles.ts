/** Records on disk to a comparison: folders, session tables, and paths that hold from where the comparison stands. */
import { basename, dirname, join, relative, resolve, sep } from 'node:path';
import { filesIn, isFolder } from './clip/clipFolder.js';
import { type CompareRequest, compareRecords } from './compare/compareRecords.js';
import type { CompareInput } from './compare/measuredRegion.js';
import { AnalysisError, UsageError } from './errors.js';
import type { Comparison } from './record/comparison.js';
import { readIfThere, toJsonText, writeWhole } from './record/files.js';
import { parseRecord } from './record/parseRecord.js';
import { parseSession, SESSION_FILE, type SessionClip } from './record/session.js';
import { inWritableFolder } from './record/writableFolder.js';

/** How `compareFiles` runs. */
export interface CompareFilesOptions extends CompareRequest {
  /** A session table elsewhere than beside the records; null uses none. */
  readonly sessionPath?: string | null;
  /** Folder to write `comparison.json` to; paths in the comparison are relative to it. Nothing is written without it. */
  readonly outFolder?: string;
}

/** A comparison and where it was written. */
export interface ComparedFiles {
  readonly comparison: Comparison;
  /** Path of the comparison file; null where none was asked for. */
  readonly path: string | null;
}

const RECORD_NAME = /\.record\.json$/;

/**
 * Compares records: files `NAME.record.json`, or folders of them.
 * @throws UsageError, AnalysisError: one sentence each
 */
export async function compareFiles(
  paths: readonly string[],
  options: CompareFilesOptions,
): Promise<ComparedFiles> {
  const records = await recordPaths(paths);
  const tables = new Map<string, SessionClip[]>();
  const from = options.outFolder ?? commonFolder(records);
  const inputs: CompareInput[] = [];
  for (const path of records) {
    const text = await readIfThere(path);
    if (text === null) {
      throw new AnalysisError(
        'record-invalid',
        `there is no record ${path}: measure the clip first, or check the path`,
      );
    }
    const record = parseRecord(text, basename(path));
    const place = relative(resolve(from), resolve(path)).split(sep).join('/');
    const row = (await sessionOf(path, options.sessionPath, tables)).find((s) => s.file === record.clip.file);
    inputs.push({
      record,
      recordPath: place,
      reportPath: place.replace(RECORD_NAME, '.report.html'),
      ...(row ? { labels: row.labels, regionLabels: row.regionLabels } : {}),
    });
  }
  const comparison = compareRecords(inputs, options);
  const { outFolder } = options;
  if (outFolder === undefined) return { comparison, path: null };
  const path = join(outFolder, 'comparison.json');
  await inWritableFolder(outFolder, 'choose another folder with --out FOLDER', () =>
    writeWhole(path, toJsonText(comparison)),
  );
  return { comparison, path };
}

/** Files as given and the records of folders, each once. */
async function recordPaths(paths: readonly string[]): Promise<string[]> {
  const found: string[] = [];
  for (const path of paths) {
    if (!(await isFolder(path))) {
      if (!RECORD_NAME.test(path)) {
        throw new UsageError(
          `${path} is neither a folder nor a record: give NAME.record.json files, or folders of them`,
        );
      }
      found.push(path);
      continue;
    }
    const inside = await filesIn(path, (name) => RECORD_NAME.test(name));
    if (inside.length === 0) {
      throw new AnalysisError(
        'record-invalid',
        `there is no record in the folder ${path}: measure its clips first, lagreel measure ${path}`,
      );
    }
    found.push(...inside);
  }
  const seen = new Set<string>();
  return found.filter((path) => !seen.has(resolve(path)) && seen.add(resolve(path)));
}

/** The deepest folder that holds all records. */
function commonFolder(paths: readonly string[]): string {
  const folders = paths.map((path) => dirname(resolve(path)).split(sep));
  const [first = []] = folders;
  let depth = 0;
  while (depth < first.length && folders.every((f) => f[depth] === first[depth])) depth += 1;
  return first.slice(0, depth).join(sep) || sep;
}

async function sessionOf(
  recordPath: string,
  sessionPath: string | null | undefined,
  tables: Map<string, SessionClip[]>,
): Promise<readonly SessionClip[]> {
  if (sessionPath === null) return [];
  return readSessionOnce(
    sessionPath ?? join(dirname(recordPath), SESSION_FILE),
    sessionPath !== undefined,
    tables,
  );
}

async function readSessionOnce(
  path: string,
  required: boolean,
  tables: Map<string, SessionClip[]>,
): Promise<readonly SessionClip[]> {
  const known = tables.get(path);
  if (known) return known;
  const table = (await readSession(path)) ?? [];
  if (table.length === 0 && required) {
    throw new AnalysisError(
      'recipe-invalid',
      `there is no session table ${path}, or it has no rows: check the path`,
    );
  }
  tables.set(path, table);
  return table;
}

/**
 * Reads a session table; null where there is none.
 * @throws AnalysisError `recipe-invalid` where it is no table
 */
export async function readSession(path: string): Promise<SessionClip[] | null> {
  const text = await readIfThere(path);
  return text === null ? null : parseSession(text, basename(path));
}
