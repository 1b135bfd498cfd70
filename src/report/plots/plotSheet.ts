/** What all plots share: the sheet with its title and words, number axes, hatching, and the style of marks. */
import { type ScaleLinear, scaleLinear } from 'd3-scale';
import { asMarkup, html, type Markup, type MarkupValue } from '../markup.js';
import { short } from '../numberText.js';
import { darkPalette, lightPalette, paletteCss } from '../palette.js';

/** What every plot needs to be found and read aloud. */
export interface PlotWords {
  /** Unique in its document; letters, digits, - and _. */
  readonly id: string;
  /** Short name of the plot. */
  readonly title: string;
}

/** Width of a plot's drawing units; chosen so that text keeps its size on a phone. */
export const PLOT_WIDTH = 360;

/** A linear scale from values (any unit) to drawing units. */
export type Scale = ScaleLinear<number, number>;

/** A coordinate as text, 3 decimals at most. */
export const at = (value: number): string => short(value, 3);

/** A scale over the values with a little room on both sides; a single value gets 1 on each side. */
export function roomyScale(values: readonly number[], range: readonly [number, number], room = 0.05): Scale {
  const finite = values.filter(Number.isFinite);
  const low = finite.length === 0 ? 0 : Math.min(...finite);
  const high = finite.length === 0 ? 1 : Math.max(...finite);
  const space = high > low ? (high - low) * room : 1;
  return scaleLinear()
    .domain([low - space, high + space])
    .range([...range]);
}

/** The whole picture as SVG text: role img, named by its title and described by its figures in words. */
export function plotSheet(
  words: PlotWords,
  description: string,
  heightUnits: number,
  body: MarkupValue,
  widthUnits = PLOT_WIDTH,
): string {
  const { id, title } = words;
  return html`<svg xmlns="http://www.w3.org/2000/svg" class="plot" role="img" viewBox="0 0 ${at(widthUnits)} ${at(heightUnits)}" width="${at(widthUnits)}" height="${at(heightUnits)}" aria-labelledby="${id}-title" aria-describedby="${id}-desc"><title id="${id}-title">${title}</title><desc id="${id}-desc">${description}</desc>${body}</svg>`
    .text;
}

/** Text at a point. `anchor`: start, middle or end; `kind`: extra class names. */
export function label(
  x: number,
  y: number,
  words: string,
  anchor: 'start' | 'middle' | 'end' = 'start',
  kind = '',
): Markup {
  return html`<text x="${at(x)}" y="${at(y)}" text-anchor="${anchor}"${kind === '' ? null : html` class="${kind}"`}>${words}</text>`;
}

/** A path with a class. */
export function path(kind: string, d: string): Markup {
  return html`<path class="${kind}" d="${d}"/>`;
}

/** A rectangle with a class; sizes below 0 become 0. `fill` overrides the class (a pattern). */
export function box(
  kind: string,
  x: number,
  y: number,
  width: number,
  height: number,
  fill?: string,
): Markup {
  const paint = fill === undefined ? null : html` fill="${fill}"`;
  return html`<rect class="${kind}" x="${at(x)}" y="${at(y)}" width="${at(Math.max(0, width))}" height="${at(Math.max(0, height))}"${paint}/>`;
}

/** A diagonal hatch, for areas that a model explains; use as `url(#id)`. */
export function hatch(id: string): Markup {
  return html`<defs><pattern id="${id}" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="hatch" d="M0 0V6"/></pattern></defs>`;
}

/** A horizontal number axis at `y`: ticks with numbers, and the unit at its right end below. */
export function bottomAxis(scale: Scale, y: number, words: string, tickCount = 5): Markup {
  const [left, right] = scale.range() as [number, number];
  const format = scale.tickFormat(tickCount);
  const ticks = scale.ticks(tickCount);
  return html`${path('axis', `M${at(left)} ${at(y)}H${at(right)}${ticks.map((t) => `M${at(scale(t))} ${at(y)}v4`).join('')}`)}${ticks.map(
    (t) => tickLabel(scale(t), y + 16, format(t).replace('−', '-')),
  )}${label(right, y + 31, words, 'end', 'axis-name')}`;
}

/** Half of a digit of a tick, as wide as phones draw it, drawing units. */
const HALF_DIGIT = 4.2;

/** A number under its tick; at the ends of the sheet it is moved inwards rather than cut. */
function tickLabel(x: number, y: number, words: string): Markup {
  const half = HALF_DIGIT * words.length;
  return label(Math.min(PLOT_WIDTH - half, Math.max(half, x)), y, words, 'middle', 'tick');
}

/** A vertical number axis at `x`, numbers to its left, its name above it, hairlines to `rightX`. */
export function leftAxis(
  scale: Scale,
  x: number,
  rightX: number,
  words: string,
  tickCount = 4,
  whole = false,
): Markup {
  const [, top] = scale.range() as [number, number];
  const format = scale.tickFormat(tickCount);
  const ticks = scale.ticks(tickCount).filter((t) => !whole || Number.isInteger(t));
  return html`${path('grid', ticks.map((t) => `M${at(x)} ${at(scale(t))}H${at(rightX)}`).join(''))}${ticks.map(
    (t) => label(x - 6, scale(t) + 4, (whole ? String(t) : format(t)).replace('−', '-'), 'end', 'tick'),
  )}${label(0, top - 8, words, 'start', 'axis-name')}`;
}

/** Rules for marks inside plots; colours come from the palette's custom properties. */
export const plotStyle = `
.plot{font-family:system-ui,-apple-system,"Segoe UI",Roboto,"Noto Sans",sans-serif;font-size:12px;font-variant-numeric:tabular-nums;overflow:visible}
.plot text{fill:var(--ink);stroke:none}
.plot .tick,.plot .axis-name,.plot .note{fill:var(--muted)}
.plot .tick,.plot .axis-name{font-size:11px}
.plot .row-name{font-weight:600}
.plot .figure{fill:var(--accent);font-weight:600}
.plot .modelled{fill:var(--model)}
.plot .alarm{fill:var(--warn)}
.plot path,.plot line{fill:none;stroke:var(--ink);stroke-width:1}
.plot .axis{stroke:var(--muted)}
.plot .grid{stroke:var(--line);stroke-width:1}
.plot .whisker{stroke:var(--accent);stroke-width:1;stroke-opacity:.55}
.plot .dots{stroke:var(--accent);stroke-width:6;stroke-linecap:round}
.plot .small-dots{stroke:var(--accent);stroke-width:4.5;stroke-linecap:round}
.plot .curve{stroke:var(--accent);stroke-width:1.8;stroke-linejoin:round}
.plot .model{stroke:var(--model);stroke-width:1.8;stroke-dasharray:5 3}
.plot .fitted{stroke:var(--model);stroke-width:1.6}
.plot .limit{stroke:var(--model);stroke-width:1;stroke-dasharray:1.5 2.5}
.plot .bar{fill:var(--accent);fill-opacity:.28;stroke:var(--accent);stroke-width:1}
.plot .hollow{fill:var(--card);stroke:var(--accent);stroke-width:1.5}
.plot .cross{stroke:var(--muted);stroke-width:1.6}
.plot .lost{stroke:var(--warn);stroke-width:1.6}
.plot .range{stroke:var(--accent);stroke-width:3}
.plot .model-range{stroke:var(--model);stroke-width:3}
.plot .solid{fill:var(--accent);stroke:none}
.plot .model-solid{fill:var(--model);stroke:none}
.plot .hatch{stroke:var(--model);stroke-width:1.2;stroke-opacity:.45}
.plot .hatched{stroke:var(--model);stroke-opacity:.5;stroke-width:1}
.plot .well{fill:var(--well);stroke:none}
.plot .onset{stroke:var(--warn);stroke-width:1.6}
.plot .onset-band{fill:var(--warn);fill-opacity:.22;stroke:none}
.plot .span{stroke:var(--muted);stroke-width:1}
.plot .press-line{stroke:var(--muted);stroke-width:1;stroke-dasharray:3 3}
.plot .cells{stroke:var(--card);stroke-width:1}
.plot .gap{stroke:var(--muted);stroke-width:1.2}
.plot image{image-rendering:pixelated}
`.trim();

/** A plot with its own colours inside, to be saved as a file of its own; follows the viewer's colour scheme. */
export function standaloneSvg(plot: string): string {
  const style = `<style>svg{${paletteCss(lightPalette)}}@media (prefers-color-scheme:dark){svg{${paletteCss(darkPalette)}}}${plotStyle}</style>`;
  // Quotes are fine in element content, so the style needs no escaping; it holds no `<` or `&`.
  return plot.replace(/(<\/desc>)/, (end) => asMarkup(end + style).text);
}
