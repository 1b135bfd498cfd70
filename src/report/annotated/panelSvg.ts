/** The panel beneath the picture of an annotated clip, as SVG: words, axes, and the whole trace for uncovering. */
import { tickStep } from 'd3-array';
import { scaleLinear } from 'd3-scale';
import { html } from '../markup.js';
import { short } from '../numberText.js';
import { darkPalette } from '../palette.js';
import { type FontWeight, fitLine, svgLine, svgSheet } from '../pictures/lettering.js';
import type { Box, FilmLayout } from './filmLayout.js';

/** Surface of the panel. */
export const PANEL_COLOUR = darkPalette.well;
/** Colour of the counter. */
export const COUNTER_COLOUR = darkPalette.ink;

/** One trace under the picture: when each shown frame saw the region, and how far the change had come. */
export interface PanelTrace {
  readonly name: string;
  /** ms from the press, ascending, one a shown frame. */
  readonly timesMs: readonly number[];
  /** 0 before the change, 1 after it. */
  readonly shares: readonly number[];
}

/** What the panel of one press says. */
export interface PanelWords {
  /** Which chain: the labels. */
  readonly title: string;
  /** Which press, and how slow. */
  readonly note: string;
  readonly footnote: string;
  /** By what the frame is: `until the press`, `since the LED lit`, ... */
  readonly states: Readonly<Record<PanelState, string>>;
  /** `68.4 ± 0.9 ms`; shown from the answer on; null where there is none. */
  readonly latency: string | null;
  readonly latencyMs: number | null;
  /** The LED's trace, then the screen's. */
  readonly traces: readonly [PanelTrace, PanelTrace];
}

/** The three panels of a press. */
export type PanelState = 'before' | 'waiting' | 'answered';

/** Horizontal scale of the traces: ms from the press to px of the panel. */
export function traceScale(layout: FilmLayout, traces: PanelWords['traces']): (ms: number) => number {
  const times = traces.flatMap((t) => [...t.timesMs]);
  const [low, high] = [Math.min(...times), Math.max(...times)];
  const box = layout.rows[0];
  const space = 8 * layout.unitPx;
  return scaleLinear()
    .domain([low, Math.max(high, low + 1)])
    .range([box.x + space, box.x + box.width - space]);
}

/** Radius of a dot of the trace, px: dots of neighbouring frames stay apart. */
export function dotRadiusPx(layout: FilmLayout, traces: PanelWords['traces']): number {
  const x = traceScale(layout, traces);
  const { timesMs } = traces[1];
  let apart = Number.POSITIVE_INFINITY;
  for (let i = 1; i < timesMs.length; i++) apart = Math.min(apart, x(timesMs[i]!) - x(timesMs[i - 1]!));
  return Math.max(1, Math.min(4.5 * layout.unitPx, apart / 2.6));
}

const line = (d: string, colour: string, widthPx: number, dash = ''): string =>
  html`<path d="${d}" fill="none" stroke="${colour}" stroke-width="${widthPx.toFixed(2)}" stroke-linejoin="round"${dash === '' ? null : html` stroke-dasharray="${dash}"`}/>`
    .text;

const at = (value: number): string => short(value, 2);

async function fitted(
  box: Box,
  text: string,
  weight: FontWeight,
  fill: string,
  size: number,
  anchor: 'start' | 'end' = 'start',
): Promise<string> {
  const fit = await fitLine(text, box.width, size, size * 0.62, weight);
  const x = anchor === 'start' ? box.x : box.x + box.width;
  return svgLine(x, box.y + box.height * 0.76, fit.text, { sizePx: fit.sizePx, weight, fill, anchor });
}

/** The panel in one state, without counter and without trace. */
export async function panelSvg(layout: FilmLayout, words: PanelWords, state: PanelState): Promise<string> {
  const u = layout.unitPx;
  const p = darkPalette;
  const { title, note, footnote, latency, unit } = layout;
  const parts = [
    await fitted(title, words.title, 700, p.ink, title.height * 0.78),
    await fitted(note, words.note, 400, p.muted, note.height * 0.7, 'end'),
    await fitted(footnote, words.footnote, 400, p.muted, footnote.height * 0.86),
    svgLine(unit.x, unit.baselineY, 'ms', { sizePx: unit.sizePx, weight: 400, fill: p.muted }),
    await fitted(layout.state, words.states[state], 400, p.muted, layout.state.height * 0.82),
  ];
  if (state === 'answered' && words.latency !== null)
    parts.push(await fitted(latency, words.latency, 700, p.accent, latency.height * 0.9));
  parts.push(axes(layout, words));
  const ground = html`<rect width="${layout.panel.width}" height="${layout.panel.height}" fill="${PANEL_COLOUR}"/>`;
  const edge = line(`M0 ${at(u)}H${layout.width}`, p.line, 2 * u);
  return svgSheet(layout.panel.width, layout.panel.height, ground.text + edge + parts.join(''));
}

function axes(layout: FilmLayout, words: PanelWords): string {
  const p = darkPalette;
  const u = layout.unitPx;
  const x = traceScale(layout, words.traces);
  const sizePx = 20 * u;
  const parts: string[] = [];
  for (const [i, box] of layout.rows.entries()) {
    parts.push(
      html`<rect x="${box.x}" y="${box.y}" width="${box.width}" height="${box.height}" rx="${at(4 * u)}" fill="${p.card}"/>`
        .text,
      svgLine(box.x + 10 * u, box.y + 24 * u, words.traces[i]!.name, { sizePx, weight: 600, fill: p.muted }),
      line(`M${at(x(0))} ${box.y}V${box.y + box.height}`, p.muted, 1.5 * u, `${at(4 * u)} ${at(4 * u)}`),
    );
  }
  const last = layout.rows[1];
  const y = last.y + last.height;
  const times = words.traces.flatMap((t) => [...t.timesMs]);
  const [low, high] = [Math.min(...times), Math.max(...times)];
  const step = tickStep(low, high, Math.max(2, last.width / (110 * u)));
  const ticks: number[] = [];
  for (let k = Math.ceil(low / step); k * step <= high; k++) ticks.push(k * step);
  parts.push(line(ticks.map((t) => `M${at(x(t))} ${y}v${at(6 * u)}`).join(''), p.muted, 1.5 * u));
  for (const tick of ticks) {
    // The unit stands at the first number only, so that nothing crowds the right end.
    const text = tick === ticks[0] ? `${short(tick)} ms` : short(tick);
    const half = 22 * u;
    const tx = Math.min(last.x + last.width - half / 2, Math.max(last.x + half, x(tick)));
    parts.push(svgLine(tx, y + 27 * u, text, { sizePx, weight: 400, fill: p.muted, anchor: 'middle' }));
  }
  return parts.join('');
}

/** The whole trace on nothing, to be laid over a panel and uncovered from left to right. */
export function traceSvg(layout: FilmLayout, words: PanelWords): string {
  const p = darkPalette;
  const u = layout.unitPx;
  const x = traceScale(layout, words.traces);
  const r = dotRadiusPx(layout, words.traces);
  const parts: string[] = [];
  for (const [i, box] of layout.rows.entries()) {
    const trace = words.traces[i]!;
    const colour = i === 0 ? p.model : p.accent;
    const y = scaleLinear()
      .domain([1.12, -0.12])
      .range([box.y, box.y + box.height])
      .clamp(true);
    const points = trace.timesMs.map((ms, k): [number, number] => [x(ms), y(trace.shares[k] ?? 0)]);
    parts.push(
      line(points.map(([px, py], k) => `${k === 0 ? 'M' : 'L'}${at(px)} ${at(py)}`).join(''), colour, 2 * u),
    );
    for (const [px, py] of points) {
      // The LED's dots are squares, the screen's are round: told apart without colour.
      parts.push(
        i === 0
          ? html`<rect x="${at(px - r)}" y="${at(py - r)}" width="${at(2 * r)}" height="${at(2 * r)}" fill="${colour}"/>`
              .text
          : html`<circle cx="${at(px)}" cy="${at(py)}" r="${at(r)}" fill="${colour}"/>`.text,
      );
    }
    if (i === 1 && words.latencyMs !== null) {
      const onsetX = x(words.latencyMs);
      const middle = box.y + box.height / 2;
      parts.push(
        line(`M${at(onsetX)} ${box.y}V${box.y + box.height}`, p.warn, 2.5 * u),
        line(
          `M${at(x(0))} ${at(middle)}H${at(onsetX)}m${at(-8 * u)} ${at(-5 * u)}l${at(8 * u)} ${at(5 * u)}l${at(-8 * u)} ${at(5 * u)}`,
          p.warn,
          2 * u,
        ),
      );
    }
  }
  return svgSheet(layout.panel.width, layout.panel.height, parts.join(''));
}
