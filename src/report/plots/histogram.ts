/** How often each latency came: bars of counts, with the count that the wait model expects as a dashed line. */
import { bin } from 'd3-array';
import { scaleLinear } from 'd3-scale';
import { line } from 'd3-shape';
import { html } from '../markup.js';
import { counted, msText } from '../numberText.js';
import {
  at,
  bottomAxis,
  box,
  label,
  leftAxis,
  PLOT_WIDTH,
  type PlotWords,
  path,
  plotSheet,
  roomyScale,
} from './plotSheet.js';
import { type WaitShape, waitDensity } from './waitCurve.js';

/** What is drawn. */
export interface HistogramInput extends PlotWords {
  readonly valuesMs: readonly number[];
  readonly model: WaitShape | null;
}

const LEFT = 30;
const TOP = 34;
const BOTTOM = 190;
const CURVE_STEPS = 120;

/** Bins of equal width: about two more than the square root of the count, at most 16 (a drawing, no estimate hangs on it). */
function bins(valuesMs: readonly number[]): { lowMs: number; highMs: number; count: number }[] {
  const low = Math.min(...valuesMs);
  const high = Math.max(...valuesMs);
  if (valuesMs.length === 0) return [];
  if (!(high > low)) return [{ lowMs: low - 0.5, highMs: low + 0.5, count: valuesMs.length }];
  const wanted = Math.min(16, 2 + Math.ceil(Math.sqrt(valuesMs.length)));
  const ticks = scaleLinear().domain([low, high]).nice(wanted);
  const [from, to] = ticks.domain() as [number, number];
  const made = bin().domain([from, to]).thresholds(ticks.ticks(wanted))([...valuesMs]);
  return made
    .filter((b) => (b.x1 ?? 0) > (b.x0 ?? 0) || b.length > 0)
    .map((b) => ({ lowMs: b.x0 ?? from, highMs: b.x1 ?? to, count: b.length }));
}

/** SVG text. The dashed line is `n * bin width * f(latency)` of the wait model. */
export function histogram(input: HistogramInput): string {
  const { valuesMs, model } = input;
  const made = bins(valuesMs);
  const ends =
    model === null || model.periodMs === 0 ? [] : [model.fixedDelayMs, model.fixedDelayMs + model.periodMs];
  const x = roomyScale([...made.flatMap((b) => [b.lowMs, b.highMs]), ...ends], [LEFT, PLOT_WIDTH - 8]);
  const widthMs = made.length === 0 ? 1 : Math.max(...made.map((b) => b.highMs - b.lowMs));
  const [fromMs, toMs] = x.domain() as [number, number];
  const curve: [number, number][] = [];
  if (model !== null && valuesMs.length > 1) {
    for (let i = 0; i <= CURVE_STEPS; i++) {
      const ms = fromMs + ((toMs - fromMs) * i) / CURVE_STEPS;
      curve.push([ms, valuesMs.length * widthMs * waitDensity(ms, model)]);
    }
  }
  const most = Math.max(1, ...made.map((b) => b.count));
  // A model without wait can be a needle far above the bars: the bars set the scale, the curve is cut.
  const y = scaleLinear()
    .domain([
      0,
      Math.max(
        most,
        Math.min(1.6 * most, ...(curve.length > 0 ? [Math.max(...curve.map((c) => c[1]))] : [most])),
      ) * 1.05,
    ])
    .range([BOTTOM, TOP]);
  const drawn = line<[number, number]>(
    (c) => x(c[0]),
    (c) => Math.max(TOP, y(c[1])),
  ).digits(2)(curve);
  const bars = made.map((b) => {
    const left = x(b.lowMs) + 0.75;
    const count =
      b.count === 0
        ? null
        : label((x(b.lowMs) + x(b.highMs)) / 2, y(b.count) - 4, String(b.count), 'middle', 'tick');
    return html`${box('bar', left, y(b.count), x(b.highMs) - left - 0.75, BOTTOM - y(b.count))}${count}`;
  });
  const legend =
    curve.length === 0
      ? null
      : html`${path('model', `M${PLOT_WIDTH - 168} 12h24`)}${label(PLOT_WIDTH - 138, 16, 'wait model expects', 'start', 'modelled')}`;
  const body = html`${leftAxis(y, LEFT, PLOT_WIDTH - 8, 'presses', 4, true)}${bars}${drawn === null || drawn === '' ? null : path('model', drawn)}${legend}${bottomAxis(x, BOTTOM, 'latency, ms')}`;
  const words = made
    .filter((b) => b.count > 0)
    .map((b) => `${at(b.lowMs)} to ${at(b.highMs)} ms: ${b.count}`)
    .join('; ');
  const mean =
    valuesMs.length === 0
      ? ''
      : ` Smallest ${msText(Math.min(...valuesMs))}, largest ${msText(Math.max(...valuesMs))}.`;
  return plotSheet(
    input,
    `${counted(valuesMs.length, 'latency', 'latencies')}. ${words}.${mean}`,
    BOTTOM + 36,
    body,
  );
}
