/** Share of presses that were answered within a time, measured (steps) and by the wait model (dashed). */
import { scaleLinear } from 'd3-scale';
import { curveStepAfter, line } from 'd3-shape';
import { html } from '../markup.js';
import { fixed, msText } from '../numberText.js';
import {
  at,
  bottomAxis,
  label,
  leftAxis,
  PLOT_WIDTH,
  type PlotWords,
  path,
  plotSheet,
  roomyScale,
} from './plotSheet.js';
import { type WaitShape, waitCumulative } from './waitCurve.js';

/** What is drawn. */
export interface CumulativeInput extends PlotWords {
  readonly valuesMs: readonly number[];
  readonly model: WaitShape | null;
}

const LEFT = 38;
const TOP = 34;
const BOTTOM = 190;
const CURVE_STEPS = 120;

/** The empirical cumulative distribution: at each sorted value, the share of values up to it. */
export function cumulativeSteps(valuesMs: readonly number[]): [number, number][] {
  const sorted = [...valuesMs].sort((a, b) => a - b);
  return sorted.map((value, i) => [value, (i + 1) / sorted.length]);
}

/** SVG text; dotted uprights mark the ends of the model's wait (fixed delay, fixed delay plus wait). */
export function cumulativePlot(input: CumulativeInput): string {
  const { valuesMs, model } = input;
  const ends =
    model === null
      ? []
      : [model.fixedDelayMs, ...(model.periodMs > 0 ? [model.fixedDelayMs + model.periodMs] : [])];
  const x = roomyScale([...valuesMs, ...ends], [LEFT, PLOT_WIDTH - 8], 0.08);
  const y = scaleLinear().domain([0, 100]).range([BOTTOM, TOP]);
  const [fromMs, toMs] = x.domain() as [number, number];
  const steps = cumulativeSteps(valuesMs);
  const draw = line<[number, number]>(
    (p) => x(p[0]),
    (p) => y(100 * p[1]),
  ).digits(2);
  const measured =
    steps.length === 0 ? '' : (draw.curve(curveStepAfter)([[fromMs, 0], ...steps, [toMs, 1]]) ?? '');
  const modelled: [number, number][] = [];
  if (model !== null) {
    for (let i = 0; i <= CURVE_STEPS; i++) {
      const ms = fromMs + ((toMs - fromMs) * i) / CURVE_STEPS;
      modelled.push([ms, waitCumulative(ms, model)]);
    }
  }
  const smooth = line<[number, number]>(
    (p) => x(p[0]),
    (p) => y(100 * p[1]),
  ).digits(2);
  const uprights = ends.map((ms) => `M${at(x(ms))} ${BOTTOM}V${TOP}`).join('');
  const legend = html`${path('curve', `M${PLOT_WIDTH - 224} 16v-6h12v-4h12`)}${label(PLOT_WIDTH - 194, 16, 'measured', 'start', 'figure')}${
    model === null
      ? null
      : html`${path('model', `M${PLOT_WIDTH - 112} 12h24`)}${label(PLOT_WIDTH - 82, 16, 'wait model', 'start', 'modelled')}`
  }`;
  const body = html`${leftAxis(y, LEFT, PLOT_WIDTH - 8, '% of presses')}${path('limit', uprights)}${model === null ? null : path('model', smooth(modelled) ?? '')}${path('curve', measured)}${legend}${bottomAxis(x, BOTTOM, 'answered within, ms')}`;
  return plotSheet(input, describe(input), BOTTOM + 36, body);
}

function describe({ valuesMs, model }: CumulativeInput): string {
  const steps = cumulativeSteps(valuesMs);
  const reached = (share: number): string =>
    msText(steps.find((s) => s[1] >= share - 1e-9)?.[0] ?? Number.NaN);
  const measured =
    steps.length === 0
      ? 'No latency was measured.'
      : `Half of the ${steps.length} presses were answered within ${reached(0.5)}, all within ${reached(1)}.`;
  if (model === null) return measured;
  const end = model.periodMs > 0 ? ` to ${fixed(model.fixedDelayMs + model.periodMs, 1)} ms` : '';
  return `${measured} The wait model rises from ${msText(model.fixedDelayMs)}${end}.`;
}
