/** Proof of one press: the camera's own crops in a row and, frame by frame below them, the trace and its fit. */
import { tickStep } from 'd3-array';
import { scaleLinear } from 'd3-scale';
import { html, type Markup } from '../markup.js';
import { fixed, short } from '../numberText.js';
import { type EvidenceAxis, evidenceAxis } from './evidenceAxis.js';
import { at, box, label, type PlotWords, path, plotSheet } from './plotSheet.js';

/** One region around one onset. */
export interface EvidenceRow {
  readonly region: string;
  /** What was found, in words: `68.4 ± 0.9 ms`, `no response`. */
  readonly found: string;
  /** Crop size, cells; only the ratio matters. */
  readonly columns: number;
  readonly rows: number;
  /** Mid-exposures (s, capture clock) and shares (0 before the change, 1 after). */
  readonly frames: readonly { readonly capturedAtS: number; readonly share: number }[];
  /** Pictures of runs of these frames, indices included; see `cropSheet`. */
  readonly runs: readonly { readonly first: number; readonly last: number; readonly address: string }[];
  readonly fitted: { readonly timesS: readonly number[]; readonly shares: readonly number[] };
  readonly onsetS: number | null;
  readonly onsetIntervalS: readonly [number, number] | null;
}

/** What is drawn. */
export interface EvidenceInput extends PlotWords {
  /** The LED first. */
  readonly rows: readonly EvidenceRow[];
  /** Capture period, s. */
  readonly periodS: number;
  /** Time 0 of the axis: the press, s on the capture clock. */
  readonly pressAtS: number;
  /** Share at which the response counts, 0..1. */
  readonly level: number;
}

const HEAD = 27;
const TRACE = 58;
const SPACE = 14;
const FIT_POINTS = 160;

function cropHeight(row: EvidenceRow, cell: number): number {
  return Math.min(64, Math.max(12, (cell * row.rows) / Math.max(1, row.columns)));
}

/** Half-unit steps are finer than any screen shows; short numbers keep a report of many presses light. */
const near = (value: number): string => short(value, 1);

function fitPath(row: EvidenceRow, axis: EvidenceAxis, y: (share: number) => number): string {
  const { timesS, shares } = row.fitted;
  const stride = Math.max(1, Math.ceil(timesS.length / FIT_POINTS));
  let d = '';
  let pen = false;
  for (let i = 0; i < timesS.length; i += stride) {
    const timeS = timesS[i]!;
    if (axis.shown(timeS)) d += `${pen ? 'L' : 'M'}${near(axis.x(timeS))} ${near(y(shares[i] ?? 0))}`;
    pen = axis.shown(timeS);
  }
  return d;
}

function drawRow(row: EvidenceRow, axis: EvidenceAxis, top: number, input: EvidenceInput): Markup {
  const { cell } = axis;
  const height = cropHeight(row, cell);
  const cropTop = top + HEAD;
  const traceTop = cropTop + height + 4;
  const y = scaleLinear()
    .domain([1.15, -0.15])
    .range([traceTop, traceTop + TRACE])
    .clamp(true);
  const left = (i: number): number => axis.x(row.frames[i]?.capturedAtS ?? 0) - cell / 2;
  const pictures = row.runs.map((run) => {
    const x = left(run.first);
    const width = left(run.last) + cell - x;
    return html`<image x="${at(x)}" y="${at(cropTop)}" width="${at(width)}" height="${at(height)}" preserveAspectRatio="none" href="${run.address}"/>`;
  });
  const edges = row.frames.map((_, i) => `M${near(left(i))} ${near(cropTop)}v${near(height)}`).join('');
  const wells = axis.windows.map((w) =>
    box('well', w.fromX, traceTop, (w.toS - w.fromS) * axis.unitsPerS, TRACE),
  );
  const lines = axis.windows
    .map((w) =>
      [0, 1].map((s) => `M${at(w.fromX)} ${at(y(s))}h${at((w.toS - w.fromS) * axis.unitsPerS)}`).join(''),
    )
    .join('');
  const dots = row.frames.map((f) => `M${near(axis.x(f.capturedAtS))} ${near(y(f.share))}h0`).join('');
  let onset: Markup | null = null;
  if (row.onsetS !== null) {
    const x = axis.x(row.onsetS);
    const [low, high] = row.onsetIntervalS ?? [row.onsetS, row.onsetS];
    const bandX = Math.min(axis.x(low), x - 0.75);
    const band = box(
      'onset-band',
      bandX,
      cropTop,
      Math.max(1.5, axis.x(high) - bandX),
      traceTop + TRACE - cropTop,
    );
    onset = html`${band}${path('onset', `M${at(x)} ${at(cropTop - 4)}V${at(traceTop + TRACE)}M${at(x - 4)} ${at(cropTop - 9)}h8l-4 6z`)}`;
  }
  let span: Markup | null = null;
  if (row.onsetS !== null && row.onsetS > input.pressAtS && axis.shown(input.pressAtS)) {
    const [fromX, toX, middle] = [axis.x(input.pressAtS), axis.x(row.onsetS), y(0.5)];
    const heads =
      toX - fromX > 14
        ? `M${at(fromX + 5)} ${at(middle - 3)}l-5 3l5 3M${at(toX - 5)} ${at(middle - 3)}l5 3l-5 3`
        : '';
    span = html`${path('press-line', `M${at(fromX)} ${at(top + HEAD)}V${at(traceTop + TRACE)}`)}${path('span', `M${at(fromX)} ${at(middle)}H${at(toX)}${heads}`)}`;
  }
  const level = axis.windows
    .map((w) => `M${at(w.fromX)} ${at(y(input.level))}h${at((w.toS - w.fromS) * axis.unitsPerS)}`)
    .join('');
  return html`${label(0, top + 11, row.region, 'start', 'row-name')}${label(axis.endX, top + 11, row.found, 'end', 'figure')}${pictures}${path('cells', edges)}${wells}${path('grid', lines)}${path('limit', level)}${span}${[0, 1].map((s) => label(24, y(s) + 4, String(s), 'end', 'tick'))}${path('fitted', fitPath(row, axis, y))}${path('small-dots', dots)}${onset}`;
}

function timeAxis(axis: EvidenceAxis, y: number, pressAtS: number): Markup {
  const step = tickStep(0, 64 / (axis.unitsPerS / 1000), 1);
  const ticks = axis.windows.map((w) => {
    const fromMs = (w.fromS - pressAtS) * 1000;
    const toMs = (w.toS - pressAtS) * 1000;
    const values: number[] = [];
    for (let k = Math.ceil(fromMs / step); k * step <= toMs; k++) values.push(k * step);
    const x = (ms: number): number => w.fromX + (ms - fromMs) * (axis.unitsPerS / 1000);
    return html`${path('axis', `M${at(x(fromMs))} ${at(y)}H${at(x(toMs))}${values.map((v) => `M${at(x(v))} ${at(y)}v4`).join('')}`)}${values.map(
      (v) => label(x(v), y + 16, short(v), 'middle', 'tick'),
    )}`;
  });
  const breaks = axis.windows.slice(1).map((w, i) => {
    const before = axis.windows[i]!;
    const endX = before.fromX + (before.toS - before.fromS) * axis.unitsPerS;
    const middle = (endX + w.fromX) / 2;
    const ms = fixed((w.fromS - before.toS) * 1000, 0);
    return html`${path('gap', `M${at(middle - 5)} ${at(y + 5)}l4-10m2 10l4-10`)}${label(middle, y - 10, `${ms} ms`, 'middle', 'tick')}${label(middle, y - 22, 'cut', 'middle', 'tick')}`;
  });
  return html`${ticks}${breaks}${label(axis.endX, y + 31, 'ms after the press', 'end', 'axis-name')}`;
}

/** SVG text; its width follows the number of camera frames, so it is meant to stand in a box that scrolls. */
export function evidencePlot(input: EvidenceInput): string {
  const axis = evidenceAxis(
    input.rows.map((row) => row.frames.map((f) => f.capturedAtS)),
    input.periodS,
  );
  let top = 2;
  const drawn: Markup[] = [];
  for (const row of input.rows) {
    drawn.push(drawRow(row, axis, top, input));
    top += HEAD + cropHeight(row, axis.cell) + 4 + TRACE + SPACE;
  }
  const body = html`${drawn}${timeAxis(axis, top, input.pressAtS)}`;
  return plotSheet(input, describe(input), top + 36, body, axis.endX + 12);
}

function describe({ rows, pressAtS }: EvidenceInput): string {
  const words = rows.map((row) => {
    const onset =
      row.onsetS === null
        ? 'no onset'
        : `onset ${fixed((row.onsetS - pressAtS) * 1000, 2)} ms after the press`;
    const interval = row.onsetIntervalS;
    const range =
      interval === null
        ? ''
        : `, 95 % interval ${fixed((interval[0] - pressAtS) * 1000, 2)} to ${fixed((interval[1] - pressAtS) * 1000, 2)} ms`;
    return `${row.region}: ${row.frames.length} camera frames, ${onset}${range}.`;
  });
  return words.join(' ');
}
