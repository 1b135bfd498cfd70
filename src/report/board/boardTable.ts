/** The board as tables for programs and people: CSV, Markdown and JSON of the same columns. Pure. */
import type { Comparison } from '../../record/comparison.js';
import { short } from '../numberText.js';
import { plainText } from '../plainText.js';
import { guardFormula, quoteCell } from '../pressesCsv.js';
import { type BoardRow, boardRows, boardWorries, orderCaution } from './boardRows.js';
import { relativeAddress } from './reportLink.js';

/** One column: name, unit, meaning, and how to fill it. */
export interface BoardColumn {
  readonly name: string;
  readonly unit: '' | 'ms' | 'display frames';
  readonly meaning: string;
  readonly value: (row: BoardRow) => string | number | null;
}

const column = (
  name: string,
  unit: BoardColumn['unit'],
  meaning: string,
  value: BoardColumn['value'],
): BoardColumn => ({ name, unit, meaning, value });

/** Every column in order; before them come `label_NAME` columns, one a label of the comparison. */
export const boardColumns: readonly BoardColumn[] = [
  column('rank', '', 'place by fixed delay (median where there is none), from 1', (r) => r.rank),
  column('group', '', 'labels of the group, joined', (r) => r.name),
  column('region', '', 'screen region', (r) => r.region),
  column('is_baseline', '', 'yes for the group that the others are compared with', (r) =>
    r.isBaseline ? 'yes' : 'no',
  ),
  column('lag', '', 'fixed, variable or undecided', (r) => r.lag),
  column('fixed_delay_ms', 'ms', 'delay without the wait', (r) => r.group.fixedDelayMs),
  column('interval_low_ms', 'ms', 'lower end of its 95 % interval', (r) => r.intervalMs?.[0] ?? null),
  column('interval_high_ms', 'ms', 'upper end of its 95 % interval', (r) => r.intervalMs?.[1] ?? null),
  column(
    'fixed_delay_display_frames',
    'display frames',
    'fixed delay over the display refresh; empty where that is not known',
    (r) => r.group.fixedDelayDisplayFrames,
  ),
  column('median_ms', 'ms', 'median latency of all presses', (r) => r.group.medianMs),
  column(
    'p05_ms',
    'ms',
    '5 % quantile of the latencies (Hyndman and Fan type 8)',
    (r) => r.group.quantilesMs.p05,
  ),
  column('p95_ms', 'ms', '95 % quantile', (r) => r.group.quantilesMs.p95),
  column('jitter_ms', 'ms', 'spread (sd) that neither wait nor camera explains', (r) => r.group.jitterMs),
  column('presses', '', 'measured presses', (r) => r.group.n),
  column('clips', '', 'clips', (r) => r.group.clips),
  column(
    'added_ms',
    'ms',
    'added to the baseline; empty where it is not compared',
    (r) => r.comparison?.addedMs ?? null,
  ),
  column(
    'added_low_ms',
    'ms',
    'lower end of its 95 % interval',
    (r) => r.comparison?.intervalMs?.[0] ?? null,
  ),
  column(
    'added_high_ms',
    'ms',
    'upper end of its 95 % interval',
    (r) => r.comparison?.intervalMs?.[1] ?? null,
  ),
  column(
    'verdict',
    '',
    'no-added-lag, adds-fixed, adds-variable, less-lag or undecided; empty where it is not compared',
    (r) => r.comparison?.verdict ?? null,
  ),
  column('sentence', '', 'the verdict in words', (r) => r.sentence),
  column('reports', '', 'paths of the reports of the clips, joined by ;', (r) =>
    r.clips.map((c) => c.report).join(';'),
  ),
];

/** RFC 4180, as the table of presses: formulas guarded, numbers to 0.001 ms, empty means "not there". */
export function boardCsv(comparison: Comparison): string {
  const header = [...comparison.by.map((key) => `label_${key}`), ...boardColumns.map((c) => c.name)];
  const cell = (value: string | number | null): string =>
    value === null
      ? ''
      : typeof value === 'number'
        ? short(value, 3)
        : quoteCell(guardFormula(plainText(value)));
  const lines = boardRows(comparison).map((row) => [
    ...comparison.by.map((key) => cell(row.group.labels[key] ?? '')),
    ...boardColumns.map((c) => cell(c.value(row))),
  ]);
  return [header.map((h) => cell(h)), ...lines].map((line) => `${line.join(',')}\r\n`).join('');
}

/** The same rows as data, with what they rest on. */
export interface BoardDocument {
  readonly format: 'lagreel-board';
  readonly version: 1;
  readonly tool: Comparison['tool'];
  readonly by: readonly string[];
  readonly marginMs: number;
  readonly zeroCheck: Comparison['zeroCheck'];
  readonly columns: readonly { readonly name: string; readonly unit: string; readonly meaning: string }[];
  readonly rows: readonly Readonly<Record<string, string | number | null>>[];
  readonly warnings: readonly string[];
}

/** The board as a JSON document: columns with units and meanings, one object a row. */
export function boardDocument(comparison: Comparison): BoardDocument {
  return {
    format: 'lagreel-board',
    version: 1,
    tool: comparison.tool,
    by: comparison.by,
    marginMs: comparison.marginMs,
    zeroCheck: comparison.zeroCheck,
    columns: boardColumns.map(({ name, unit, meaning }) => ({ name, unit, meaning })),
    rows: boardRows(comparison).map((row) => ({
      ...Object.fromEntries(comparison.by.map((key) => [`label_${key}`, row.group.labels[key] ?? ''])),
      ...Object.fromEntries(boardColumns.map((c) => [c.name, c.value(row)])),
    })),
    warnings: comparison.warnings,
  };
}

/**
 * Text for Markdown: what would be markup there, or become a link by itself (GFM's bare addresses), gets a backslash.
 * CommonMark 0.31 section 2.4: any ASCII punctuation may be escaped.
 */
export function markdownText(text: string): string {
  return plainText(text)
    .replace(/[\\`*_{}[\]<>#|~&$^@]/g, (character) => `\\${character}`)
    .replace(/:(?=\/)/g, '\\:')
    .replace(/(www)\./gi, '$1\\.');
}

/** The board as a Markdown page (CommonMark with tables). */
export function boardMarkdown(comparison: Comparison): string {
  const rows = boardRows(comparison);
  const head = [
    '#',
    'chain',
    'lag',
    'fixed delay',
    '95 % interval',
    'against the baseline',
    'presses',
    'reports',
  ];
  const lines = rows.map((row) => [
    String(row.rank),
    `**${markdownText(row.title)}**`,
    row.lag,
    row.headlineKind === 'median' ? `${row.headline} (median)` : row.headline,
    row.interval,
    row.added,
    `${row.group.n} in ${row.group.clips === 1 ? '1 clip' : `${row.group.clips} clips`}`,
    row.clips
      .map((clip) => {
        const address = relativeAddress(clip.report);
        return address === null ? markdownText(clip.file) : `[${markdownText(clip.file)}](${address})`;
      })
      .join(', '),
  ]);
  const table = [head, head.map(() => '---'), ...lines].map((line) => `| ${line.join(' | ')} |`);
  const sentences = rows
    .filter((row) => row.sentence !== '')
    .map(
      (row) => `- ${markdownText(row.title === row.name ? row.sentence : `${row.region}: ${row.sentence}`)}`,
    );
  const worries = boardWorries(comparison);
  const notes = [orderCaution(rows), comparison.zeroCheck.sentence, comparison.betweenClips.sentence].filter(
    (note) => note !== null && note !== '',
  );
  return [
    `# ${markdownText(boardTitle(comparison))}`,
    '',
    ...table,
    '',
    ...(sentences.length > 0 ? [...sentences, ''] : []),
    ...notes.flatMap((note) => [markdownText(note ?? ''), '']),
    ...(worries.length > 0
      ? ['## What to worry about', '', ...worries.map((w) => `- ${markdownText(w)}`), '']
      : []),
    `Made by lagreel ${markdownText(comparison.tool.version)}. A fixed lag is the same for every press; a variable one wanders.`,
    '',
  ].join('\n');
}

/** `Latency by chain and mode`. */
export function boardTitle(comparison: Comparison): string {
  const by = comparison.by.map(plainText).filter((key) => key !== '');
  if (by.length === 0) return 'Latency';
  const last = by.at(-1)!;
  return `Latency by ${by.length === 1 ? last : `${by.slice(0, -1).join(', ')} and ${last}`}`;
}
