/** The session table: labels for all clips of a folder in one CSV file. */
import { parse } from 'csv-parse/sync';
import { AnalysisError } from '../errors.js';
import type { Labels } from './comparison.js';

/** Name of the table in a folder of clips. */
export const SESSION_FILE = 'session.csv';

/** One clip's row, or several rows where its regions have labels of their own. */
export interface SessionClip {
  readonly file: string;
  readonly labels: Labels;
  readonly regionLabels: Readonly<Record<string, Labels>>;
}

/**
 * Parses `session.csv`: a header with `file` and any label columns, one row a clip; an empty cell is no label. A column
 * `region` gives the row's labels to that region of the clip alone (two chains in one picture take two rows).
 * Comma or semicolon; UTF-8, with or without a byte-order mark.
 * @param name for the message
 * @throws AnalysisError `recipe-invalid` naming the line
 */
export function parseSession(text: string, name: string): SessionClip[] {
  const refuse = (why: string) => new AnalysisError('recipe-invalid', `${name} ${why}`);
  const head = text.replace(/^\ufeff/, '').split(/\r?\n/, 1)[0] ?? '';
  let rows: string[][];
  try {
    rows = parse(text, {
      bom: true,
      trim: true,
      skip_empty_lines: true,
      delimiter: head.includes(';') && !head.includes(',') ? ';' : ',',
    });
  } catch (cause) {
    const why = cause instanceof Error ? cause.message : String(cause);
    throw refuse(`is not a table: ${why.slice(0, 200)}; mend it there`);
  }
  const [header, ...body] = rows;
  const columns = header ?? [];
  const fileAt = columns.indexOf('file');
  if (fileAt < 0)
    throw refuse('has no column "file": its first line names the columns, "file" and one for each label');
  const regionAt = columns.indexOf('region');
  const twice = columns.find((column, i) => columns.indexOf(column) !== i);
  if (twice !== undefined) throw refuse(`has two columns "${twice}": name each label once`);
  if (columns.includes(''))
    throw refuse(`has a column without a name (number ${columns.indexOf('') + 1}): name it or remove it`);
  const clips = new Map<string, { labels: Labels; regionLabels: Record<string, Labels> }>();
  body.forEach((row, i) => {
    const line = i + 2;
    const file = row[fileAt]!;
    if (file === '') throw refuse(`names no file in row ${line}: fill it in or remove the row`);
    const labels = Object.fromEntries(
      columns.flatMap((column, c) =>
        c === fileAt || c === regionAt || row[c] === '' ? [] : [[column, row[c]!]],
      ),
    );
    const region = regionAt < 0 ? '' : row[regionAt]!;
    const clip = clips.get(file) ?? { labels: {}, regionLabels: {} };
    if (
      region === ''
        ? clips.has(file) && Object.keys(clip.labels).length > 0
        : Object.hasOwn(clip.regionLabels, region)
    ) {
      throw refuse(
        `names ${region === '' ? file : `region ${region} of ${file}`} again in row ${line}: one row each`,
      );
    }
    if (region === '') clip.labels = labels;
    // Defined, not assigned: a region may bear any name, `__proto__` too.
    else clip.regionLabels = { ...clip.regionLabels, [region]: labels };
    clips.set(file, clip);
  });
  return [...clips].map(([file, clip]) => ({ file, ...clip }));
}
