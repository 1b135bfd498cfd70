/** Every latency as a dot with its 95 % interval; below it the median, the fixed delay and the wait. */

import { html, type Markup } from '../markup.js';
import { fixed, intervalText, msText } from '../numberText.js';
import {
  at,
  bottomAxis,
  box,
  hatch,
  label,
  PLOT_WIDTH,
  type PlotWords,
  path,
  plotSheet,
  roomyScale,
  type Scale,
} from './plotSheet.js';

/** One latency, ms. */
export interface StripPoint {
  readonly valueMs: number;
  /** 95 % interval, ms. */
  readonly intervalMs: readonly [number, number] | null;
}

/** What is drawn. */
export interface StripPlotInput extends PlotWords {
  readonly points: readonly StripPoint[];
  readonly median: { readonly valueMs: number; readonly intervalMs: readonly [number, number] | null } | null;
  readonly wait: {
    readonly fixedDelayMs: number;
    readonly intervalMs: readonly [number, number];
    /** 0 where there is no wait. */
    readonly periodMs: number;
  } | null;
}

const TOP = 10;
const CLOUD = 96;
const ROW = 24;
const GOLDEN = (Math.sqrt(5) - 1) / 2;

function summaryRow(
  scale: Scale,
  y: number,
  valueMs: number,
  intervalMs: readonly [number, number] | null,
  words: string,
  model: boolean,
): Markup {
  const x = scale(valueMs);
  const range =
    intervalMs === null
      ? null
      : path(
          model ? 'model-range' : 'range',
          `M${at(scale(intervalMs[0]))} ${at(y)}H${at(scale(intervalMs[1]))}`,
        );
  // Diamond for the median, triangle for the model's delay: told apart without colour.
  const mark = model ? `M${at(x)} ${at(y - 6)}l6 10h-12z` : `M${at(x)} ${at(y - 6)}l6 6l-6 6l-6-6z`;
  return html`${range}${path(model ? 'model-solid' : 'solid', mark)}${label(0, y + 4, words, 'start', model ? 'modelled' : 'figure')}`;
}

/** SVG text. Dots are spread vertically by their order only, so that none hides another; height means nothing. */
export function stripPlot(input: StripPlotInput): string {
  const { points, median, wait } = input;
  const waitEndMs =
    wait === null ? [] : [wait.intervalMs[0], wait.intervalMs[1], wait.fixedDelayMs + wait.periodMs];
  const values = points.flatMap((p) => [p.valueMs, ...(p.intervalMs ?? [])]);
  const scale = roomyScale([...values, ...(median?.intervalMs ?? []), ...waitEndMs], [84, PLOT_WIDTH - 8]);
  const y = (i: number): number => TOP + 8 + (CLOUD - 16) * ((0.5 + i * GOLDEN) % 1);
  const whiskers = points
    .map((p, i) =>
      p.intervalMs === null ? '' : `M${at(scale(p.intervalMs[0]))} ${at(y(i))}H${at(scale(p.intervalMs[1]))}`,
    )
    .join('');
  const dots = points.map((p, i) => `M${at(scale(p.valueMs))} ${at(y(i))}h0`).join('');
  const rows: Markup[] = [];
  let rowY = TOP + CLOUD + ROW / 2;
  if (median !== null) {
    rows.push(summaryRow(scale, rowY, median.valueMs, median.intervalMs, 'median', false));
    rowY += ROW;
  }
  if (wait !== null) {
    rows.push(summaryRow(scale, rowY, wait.fixedDelayMs, wait.intervalMs, 'fixed delay', true));
    rowY += ROW;
    if (wait.periodMs > 0) {
      const x = scale(wait.fixedDelayMs);
      rows.push(
        box(
          'hatched',
          x,
          rowY - 7,
          scale(wait.fixedDelayMs + wait.periodMs) - x,
          14,
          `url(#${input.id}-hatch)`,
        ),
        label(0, rowY + 4, 'the wait', 'start', 'modelled'),
      );
      rowY += ROW;
    }
  }
  const axisY = rowY - ROW / 2 + 6;
  const body = html`${hatch(`${input.id}-hatch`)}${label(0, TOP + CLOUD / 2 + 4, 'presses')}${path('whisker', whiskers)}${path('dots', dots)}${rows}${bottomAxis(scale, axisY, 'latency, ms')}`;
  return plotSheet(input, describe(input), axisY + 36, body);
}

function describe({ points, median, wait }: StripPlotInput): string {
  const values = points.map((p) => p.valueMs);
  const parts = [
    points.length === 0
      ? 'No latency was measured.'
      : `${points.length} latencies from ${msText(Math.min(...values))} to ${msText(Math.max(...values))}, each with its 95 % interval.`,
  ];
  if (median !== null) {
    const interval = median.intervalMs === null ? '' : `, interval ${intervalText(median.intervalMs)}`;
    parts.push(`Median ${msText(median.valueMs)}${interval}.`);
  }
  if (wait !== null) {
    parts.push(`Fixed delay ${msText(wait.fixedDelayMs)}, 95 % interval ${intervalText(wait.intervalMs)}.`);
    if (wait.periodMs > 0) parts.push(`The wait adds up to ${fixed(wait.periodMs, 1)} ms.`);
  }
  return parts.join(' ');
}
