/** Latency against press number: drift, outliers, and which presses gave no answer. */
import { scaleLinear } from 'd3-scale';
import { html } from '../markup.js';
import { counted, msText } from '../numberText.js';
import {
  at,
  box,
  hatch,
  label,
  leftAxis,
  PLOT_WIDTH,
  type PlotWords,
  path,
  plotSheet,
  roomyScale,
} from './plotSheet.js';

/** One press in one region. */
export interface PressPoint {
  /** Press number, from 1. */
  readonly index: number;
  readonly status: 'measured' | 'no-response' | 'ambiguous' | 'excluded';
  readonly latencyMs: number | null;
  /** 95 % interval, ms. */
  readonly intervalMs: readonly [number, number] | null;
}

/** What is drawn. */
export interface PressPlotInput extends PlotWords {
  readonly presses: readonly PressPoint[];
  readonly medianMs: number | null;
  /** The band that fixed delay and wait explain, ms. */
  readonly explainedMs: readonly [number, number] | null;
}

const LEFT = 38;
const TOP = 34;
const BOTTOM = 176;
const LOST_Y = 194;

/** SVG text: dots measured, diamonds ambiguous, crosses excluded, rings (on the line below) without response. */
export function pressPlot(input: PressPlotInput): string {
  const { presses, medianMs, explainedMs } = input;
  const drawn = presses.filter((p) => p.latencyMs !== null);
  const lost = presses.filter((p) => p.latencyMs === null);
  const y = roomyScale(
    [...drawn.flatMap((p) => [p.latencyMs ?? 0, ...(p.intervalMs ?? [])]), ...(explainedMs ?? [])],
    [BOTTOM, TOP],
  );
  const indices = presses.map((p) => p.index);
  const first = Math.min(1, ...indices);
  const last = Math.max(first, ...indices);
  const x = scaleLinear()
    .domain([first - 0.5, last + 0.5])
    .range([LEFT, PLOT_WIDTH - 8]);
  const whiskers = drawn
    .map((p) =>
      p.intervalMs === null ? '' : `M${at(x(p.index))} ${at(y(p.intervalMs[0]))}V${at(y(p.intervalMs[1]))}`,
    )
    .join('');
  const of = (status: PressPoint['status'], mark: (px: number, py: number) => string): string =>
    drawn
      .filter((p) => p.status === status)
      .map((p) => mark(x(p.index), y(p.latencyMs ?? 0)))
      .join('');
  const diamond = (px: number, py: number): string => `M${at(px)} ${at(py - 5)}l5 5l-5 5l-5-5z`;
  const cross = (px: number, py: number): string => `M${at(px - 4)} ${at(py - 4)}l8 8m0-8l-8 8`;
  const ring = (px: number, py: number): string => `M${at(px - 4)} ${at(py)}a4 4 0 1 0 8 0a4 4 0 1 0-8 0`;
  const lostMarks = (status: PressPoint['status'], mark: (px: number, py: number) => string): string =>
    lost
      .filter((p) => p.status === status)
      .map((p) => mark(x(p.index), LOST_Y - 4))
      .join('');
  const [bandLow, bandHigh] = explainedMs ?? [0, 0];
  const band =
    explainedMs === null || bandHigh <= bandLow
      ? null
      : html`${box('hatched', LEFT, y(bandHigh), PLOT_WIDTH - 8 - LEFT, y(bandLow) - y(bandHigh), `url(#${input.id}-hatch)`)}${label(PLOT_WIDTH - 8, TOP - 8, 'hatched: explained by the wait', 'end', 'modelled')}`;
  const median = medianMs === null ? null : path('curve', `M${LEFT} ${at(y(medianMs))}H${PLOT_WIDTH - 8}`);
  const ticks = x
    .ticks(Math.min(8, Math.max(2, last - first)))
    .filter((t) => Number.isInteger(t) && t >= first && t <= last);
  const axisY = lost.length > 0 ? LOST_Y + 10 : BOTTOM + 8;
  const body = html`${hatch(`${input.id}-hatch`)}${leftAxis(y, LEFT, PLOT_WIDTH - 8, 'latency, ms')}${band}${median}${path('whisker', whiskers)}${path(
    'dots',
    of('measured', (px, py) => `M${at(px)} ${at(py)}h0`),
  )}${path('hollow', of('ambiguous', diamond) + lostMarks('ambiguous', diamond))}${path('cross', of('excluded', cross) + lostMarks('excluded', cross))}${path(
    'lost',
    of('no-response', ring) + lostMarks('no-response', ring),
  )}${lost.length > 0 ? label(LEFT - 6, LOST_Y, 'none', 'end', 'tick') : null}${path('axis', `M${LEFT} ${axisY}H${PLOT_WIDTH - 8}${ticks.map((t) => `M${at(x(t))} ${axisY}v4`).join('')}`)}${ticks.map(
    (t) => label(x(t), axisY + 16, String(t), 'middle', 'tick'),
  )}${label(PLOT_WIDTH - 8, axisY + 31, 'press number', 'end', 'axis-name')}`;
  return plotSheet(input, describe(input), axisY + 36, body);
}

function describe({ presses, medianMs, explainedMs }: PressPlotInput): string {
  const parts = [`${counted(presses.length, 'press', 'presses')}.`];
  const measured = presses.filter((p) => p.status === 'measured' && p.latencyMs !== null);
  if (measured.length > 0)
    parts.push(
      `Latencies: ${measured.map((p) => `press ${p.index} ${msText(p.latencyMs ?? 0)}`).join(', ')}.`,
    );
  for (const [status, words] of [
    ['no-response', 'Without response'],
    ['ambiguous', 'Ambiguous'],
    ['excluded', 'Excluded'],
  ] as const) {
    const which = presses.filter((p) => p.status === status).map((p) => p.index);
    if (which.length > 0) parts.push(`${words}: ${which.join(', ')}.`);
  }
  if (medianMs !== null) parts.push(`Median ${msText(medianMs)}.`);
  if (explainedMs !== null)
    parts.push(`The wait explains ${msText(explainedMs[0])} to ${msText(explainedMs[1])}.`);
  return parts.join(' ');
}
