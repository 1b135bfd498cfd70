/** All groups of a board on one time axis: presses, fixed delays with their intervals, waits and spreads. */
import { scaleLinear } from 'd3-scale';
import { LAG_WORDS, lagSign } from '../lagSign.js';
import { html, type Markup } from '../markup.js';
import { fixed, intervalText } from '../numberText.js';
import { at, bottomAxis, box, hatch, label, PLOT_WIDTH, path, plotSheet } from '../plots/plotSheet.js';
import { columnsOf } from '../terminal.js';
import type { BoardRow } from './boardRows.js';

const ROW = 58;
const LEFT = 2;
const RIGHT = PLOT_WIDTH - 4;
/** Room for a name beside the figure at the row's right end, in widths of a small letter of a wide font. */
const NAME_ROOM = 17;
/** More dots than this say no more. */
const MAX_DOTS = 160;

/** Axis values that hold every press and interval; from 0, so that lengths can be compared. */
export function boardDomainMs(rows: readonly BoardRow[]): readonly [number, number] {
  const values = rows.flatMap((row) => [
    row.group.maximumMs,
    row.group.minimumMs,
    ...(row.intervalMs ?? []),
    ...row.spreadMs,
  ]);
  return [Math.min(0, ...values), Math.max(1, ...values) * 1.02];
}

/** SVG text; every row has its name, its sign with the word, and its figure. */
export function boardPlot(rows: readonly BoardRow[], id: string): string {
  const x = scaleLinear().domain(boardDomainMs(rows)).range([LEFT, RIGHT]);
  const body = rows.map((row, i) => rowMarkup(row, i * ROW, x, id));
  const bottom = rows.length * ROW + 6;
  const axis = bottomAxis(x, bottom, 'ms after the press', 6);
  return plotSheet(
    { id, title: 'All groups, shortest delay first' },
    describe(rows),
    bottom + 36,
    html`${hatch(`${id}-hatch`)}${body}${axis}`,
  );
}

function rowMarkup(row: BoardRow, top: number, x: (ms: number) => number, id: string): Markup {
  const barTop = top + 22;
  const middle = barTop + 9;
  const [from, to] = row.spreadMs;
  const name = shortName(row.title);
  const stride = Math.max(1, Math.ceil(row.group.latencies.length / MAX_DOTS));
  const dots = row.group.latencies
    .filter((_, i) => i % stride === 0)
    .map(({ ms }) => `M${at(x(ms))} ${at(barTop + 25)}h0`)
    .join('');
  const bar =
    row.lag === 'fixed'
      ? html`${box('bar', x(0), barTop, x(row.headlineMs) - x(0), 18)}${box('hatched', x(from), barTop, x(to) - x(from), 18, `url(#${id}-hatch)`)}`
      : html`${box('bar', x(0), barTop + 6, x(from) - x(0), 6)}${path('model-range', `M${at(x(from))} ${at(barTop + 1)}v16M${at(x(to))} ${at(barTop + 1)}v16M${at(x(from))} ${at(middle)}H${at(x(to))}`)}`;
  const interval =
    row.intervalMs === null
      ? null
      : path(
          'board-interval',
          `M${at(x(row.intervalMs[0]))} ${at(middle)}H${at(x(row.intervalMs[1]))}M${at(x(row.intervalMs[0]))} ${at(barTop + 2)}v14M${at(x(row.intervalMs[1]))} ${at(barTop + 2)}v14`,
        );
  return html`${lagSign(row.lag, 7, top + 10, 13)}${label(18, top + 14, name, 'start', 'row-name')}${label(RIGHT, top + 14, `${LAG_WORDS[row.lag].word} · ${row.headline}`, 'end', 'figure')}${bar}${interval}${path('board-dots', dots)}`;
}

/** The beginning of a name that fits; the whole name stands in the list. */
export function shortName(name: string): string {
  let room = NAME_ROOM;
  let kept = '';
  for (const character of name) {
    room -= columnsOf(character) > 1 ? 1.7 : /[A-ZMW@%mw\u00C0-\u00DE]/.test(character) ? 1.4 : 1;
    if (room < 0) return `${kept.trimEnd()}…`;
    kept += character;
  }
  return name;
}

function describe(rows: readonly BoardRow[]): string {
  return rows
    .map((row) => {
      const interval = row.intervalMs === null ? '' : `, 95 % interval ${intervalText(row.intervalMs)}`;
      return `${row.rank}. ${row.title}: ${row.headlineKind} ${fixed(row.headlineMs, 1)} ms${interval}; ${LAG_WORDS[row.lag].word}, ${row.spread}.`;
    })
    .join(' ');
}

/** Rules for the marks of this plot, beside those of all plots. */
export const boardPlotStyle = `
.plot .board-interval{stroke:var(--ink);stroke-width:2.4}
.plot .board-dots{stroke:var(--muted);stroke-width:3.2;stroke-linecap:round;stroke-opacity:.75}
`.trim();
