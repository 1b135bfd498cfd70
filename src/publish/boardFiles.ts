/** A comparison on disk to a board on disk: one HTML page, and the same rows as Markdown, CSV and JSON beside it. */
import { basename, dirname, extname, join, relative, resolve, sep } from 'node:path';
import { UsageError } from '../errors.js';
import type { Comparison } from '../record/comparison.js';
import { toJsonText, writeWhole } from '../record/files.js';
import { inWritableFolder } from '../record/writableFolder.js';
import { boardHtml } from '../report/board/boardHtml.js';
import { type BoardDocument, boardCsv, boardDocument, boardMarkdown } from '../report/board/boardTable.js';
import { readStored } from './storedRecord.js';

/** What was written. */
export interface BoardFiles {
  readonly html: string;
  readonly markdown: string;
  readonly csv: string;
  readonly json: string;
  readonly board: BoardDocument;
}

/**
 * Writes `NAME.html`, `NAME.md`, `NAME.csv` and `NAME.json`. Links lead from there to the reports that the comparison
 * names, wherever the comparison stands.
 * @throws UsageError where `outputPath` is no `NAME.html`, or the comparison itself would be overwritten; AnalysisError
 *   `record-invalid`, `write-failed`.
 */
export async function boardFiles(comparisonPath: string, outputPath: string): Promise<BoardFiles> {
  if (extname(outputPath) !== '.html')
    throw new UsageError(`${basename(outputPath)} must end in .html: the other files are named after it`);
  const base = outputPath.slice(0, -'.html'.length);
  const files = { html: outputPath, markdown: `${base}.md`, csv: `${base}.csv`, json: `${base}.json` };
  if (Object.values(files).some((path) => resolve(path) === resolve(comparisonPath)))
    throw new UsageError(`${comparisonPath} would be overwritten: give the board another name with -o`);
  const stored = await readStored(comparisonPath);
  if (stored.kind !== 'comparison')
    throw new UsageError(
      `${basename(comparisonPath)} is the record of one clip: a board is made from the comparison.json of lagreel compare`,
    );
  const moved = movedPaths(stored.comparison, comparisonPath, outputPath);
  const board = boardDocument(moved);
  await inWritableFolder(dirname(outputPath), 'choose another place with -o FOLDER/NAME.html', async () => {
    await writeWhole(files.csv, boardCsv(moved));
    await writeWhole(files.json, toJsonText(board));
    await writeWhole(files.markdown, boardMarkdown(moved));
    await writeWhole(files.html, boardHtml(moved));
  });
  return { ...files, board };
}

/** The comparison with its relative paths as seen from the board's folder; absolute ones stay and are not linked. */
function movedPaths(comparison: Comparison, comparisonPath: string, outputPath: string): Comparison {
  const from = resolve(dirname(comparisonPath));
  const to = resolve(dirname(outputPath));
  const move = (path: string): string => {
    if (path === '' || path.startsWith('/') || path.startsWith('\\') || /^[A-Za-z]:[\\/]/.test(path))
      return path;
    return relative(to, join(from, ...path.split('/')))
      .split(sep)
      .join('/');
  };
  return {
    ...comparison,
    clips: comparison.clips.map((c) => ({ ...c, record: move(c.record), report: move(c.report) })),
    zeroCheck: {
      ...comparison.zeroCheck,
      clips: comparison.zeroCheck.clips.map((c) => ({ ...c, record: move(c.record) })),
    },
  };
}
