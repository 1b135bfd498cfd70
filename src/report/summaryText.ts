/** The terminal summary of a record: the answer, the table, the counts, the worries, the clock. */
import type { ClipRecord, SummaryRecord } from '../record/record.js';
import {
  countsText,
  type Headline,
  headlineOf,
  pressCounts,
  screenRegions,
  shutterText,
  summaryOf,
  timingText,
  worries,
} from './headline.js';
import { fixed } from './numberText.js';
import { plainText } from './plainText.js';
import { columnsOf, columnTable, paint, type TerminalOptions, wrap } from './terminal.js';

function answerLines(headline: Headline, { colour, width }: TerminalOptions): string[] {
  const title = [headline.region, ...headline.labels].join(' · ');
  const lines = wrap(title, width).map((line) => paint(line, 'strong', colour));
  lines.push(...wrap(headline.verdict, width, '  '));
  const figures = headline.main === null ? [] : [headline.main, ...headline.others];
  const labelColumns = Math.max(0, ...figures.map((f) => columnsOf(f.label)));
  for (const [i, figure] of figures.entries()) {
    const lead = `  ${figure.label.padEnd(labelColumns)}  `;
    const text = figure.note === '' ? figure.value : `${figure.value}  (${figure.note})`;
    const [first = '', ...rest] = wrap(text, width, lead, ' '.repeat(columnsOf(lead)));
    const tail = first.slice(lead.length);
    const painted =
      i === 0 && tail.startsWith(figure.value)
        ? lead + paint(figure.value, 'figure', colour) + tail.slice(figure.value.length)
        : first;
    lines.push(painted, ...rest);
  }
  return lines;
}

const STATISTICS = [
  'n',
  'min',
  'median',
  '[interval]',
  'mean',
  'sd',
  'p05',
  'p25',
  'p75',
  'p95',
  'max',
] as const;

function statistics(s: SummaryRecord, unitMs: number, decimals: number): string[] {
  const show = (ms: number): string => fixed(ms / unitMs, decimals);
  const interval = s.medianIntervalMs;
  const q = s.quantilesMs;
  return [
    String(s.n),
    show(s.minimumMs),
    show(s.medianMs),
    interval === null ? '[none]' : `[${show(interval[0])}, ${show(interval[1])}]`,
    show(s.meanMs),
    s.sdMs === null ? '-' : show(s.sdMs),
    show(q.p05),
    show(q.p25),
    show(q.p75),
    show(q.p95),
    show(s.maximumMs),
  ];
}

function tableLines(record: ClipRecord, options: TerminalOptions): string[] {
  const rows: string[][] = [];
  for (const region of screenRegions(record)) {
    const summary = summaryOf(record, region);
    const name = plainText(region);
    if (summary === null) {
      rows.push([name, 'ms', '0', ...STATISTICS.slice(1).map(() => '-')]);
      continue;
    }
    rows.push([name, 'ms', ...statistics(summary, 1, 2)]);
    if (summary.displayFrameMs !== null) {
      rows.push([name, 'display frames', ...statistics(summary, summary.displayFrameMs, 2)]);
    }
  }
  const head = ['region', 'unit', ...STATISTICS];
  const wide = columnTable([head, ...rows], options.width, 2);
  if (wide !== null) return wide.map((line, i) => (i === 0 ? paint(line, 'faint', options.colour) : line));
  const turned = head.map((label, c) => [label, ...rows.map((row) => row[c] ?? '')]);
  const tall = columnTable(turned, options.width);
  if (tall !== null) return tall;
  return rows.flatMap((row) => [
    ...wrap(`${row[0]}, ${row[1]}`, options.width),
    ...STATISTICS.map((label, i) => `  ${label.padEnd(10)}  ${row[i + 2] ?? ''}`),
  ]);
}

/**
 * The summary that `measure` prints: plain lines ending in a line break. First the answer of each screen region,
 * then the table (ms and display frames; quantiles after Hyndman and Fan, type 8), the counts of presses, what to
 * worry about, and how the time was known. Strings from files lose control and reordering characters. Pure.
 */
export function renderSummary(record: ClipRecord, options: TerminalOptions): string {
  const at: TerminalOptions = { colour: options.colour, width: Math.max(40, Math.floor(options.width)) };
  const heading = (text: string): string => paint(text, 'strong', at.colour);
  const lines: string[] = [];
  for (const region of screenRegions(record)) lines.push(...answerLines(headlineOf(record, region), at), '');
  if (lines.length === 0) lines.push('No screen region, so no latency.', '');

  lines.push(heading('Latencies'), ...tableLines(record, at), '');
  lines.push(heading('Presses'), ...wrap(`${countsText(pressCounts(record))}.`, at.width, '  '), '');

  lines.push(heading('What to worry about'));
  const fitness = `The clip is ${record.fitness.class}.`;
  lines.push(...wrap(fitness, at.width, '  '));
  for (const { severity, text } of worries(record)) {
    const mark = { note: '-', care: '!', unfit: '!!' }[severity];
    const painted = wrap(text, at.width, `  ${mark} `, '    ');
    lines.push(...painted.map((line) => (severity === 'note' ? line : paint(line, 'warn', at.colour))));
  }
  lines.push('', heading('How the time was known'));
  lines.push(...wrap(timingText(record), at.width, '  '), ...wrap(shutterText(record), at.width, '  '));
  return `${lines.join('\n')}\n`;
}
