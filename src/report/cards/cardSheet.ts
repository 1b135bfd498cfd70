/** What all cards share: sizes, themes, the ground with its words, and lines that fit. */
import { signStyle } from '../lagSign.js';
import { asMarkup, html } from '../markup.js';
import { darkPalette, lightPalette, type Palette } from '../palette.js';
import { type FontWeight, fitLine, svgLine, wrapLines } from '../pictures/lettering.js';

/** `wide` for a video, 1920 x 1080 px; `tall` for a post on a phone, 1080 x 1920 px. */
export type CardShape = 'wide' | 'tall';
/** Light or dark surroundings. */
export type CardTheme = 'light' | 'dark';

/** A card as SVG and the colour under it. */
export interface Card {
  readonly svg: string;
  readonly widthPx: number;
  readonly heightPx: number;
  readonly background: string;
}

/** Size, colours and margins of a card. */
export interface CardGround {
  readonly shape: CardShape;
  readonly widthPx: number;
  readonly heightPx: number;
  readonly marginPx: number;
  readonly palette: Palette;
}

/** The ground of a card. */
export function cardGround(shape: CardShape, theme: CardTheme): CardGround {
  const [widthPx, heightPx] = shape === 'wide' ? [1920, 1080] : [1080, 1920];
  const palette = theme === 'light' ? lightPalette : darkPalette;
  return { shape, widthPx, heightPx, marginPx: shape === 'wide' ? 96 : 72, palette };
}

/** The whole sheet around parts that were built with `svgLine` or `html`; `description` is for those who do not see it. */
export function cardSheet(
  ground: CardGround,
  parts: readonly string[],
  title: string,
  description: string,
): Card {
  const { widthPx, heightPx, palette } = ground;
  const body = html`<svg xmlns="http://www.w3.org/2000/svg" width="${widthPx}" height="${heightPx}" viewBox="0 0 ${widthPx} ${heightPx}" role="img" aria-labelledby="card-title" aria-describedby="card-desc"><title id="card-title">${title}</title><desc id="card-desc">${description}</desc><style>${asMarkup(signStyle(palette.ink, palette.paper))}</style><defs><pattern id="card-hatch" width="14" height="14" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path d="M0 0V14" stroke="${palette.model}" stroke-width="5" fill="none"/></pattern></defs><rect width="${widthPx}" height="${heightPx}" fill="${palette.paper}"/>${asMarkup(parts.join(''))}</svg>`;
  return { svg: body.text, widthPx, heightPx, background: palette.paper };
}

/** How a line is set. */
export interface LineStyle {
  readonly sizePx: number;
  readonly weight: FontWeight;
  readonly fill: string;
  readonly anchor?: 'start' | 'middle' | 'end';
  /** Smallest size before the line is cut short; default 0.6 of the size. */
  readonly smallestPx?: number;
}

/** One line that keeps within `widthPx`: smaller if it must be, then cut short. */
export async function cardLine(
  x: number,
  baselineY: number,
  text: string,
  widthPx: number,
  style: LineStyle,
): Promise<string> {
  const smallest = style.smallestPx ?? style.sizePx * 0.6;
  const fit = await fitLine(text, widthPx, style.sizePx, smallest, style.weight);
  return svgLine(x, baselineY, fit.text, { ...style, sizePx: fit.sizePx });
}

/** Lines of a text from a first baseline down, at most `maxLines`; the last one is cut short. */
export async function cardText(
  x: number,
  firstBaselineY: number,
  text: string,
  widthPx: number,
  maxLines: number,
  style: LineStyle,
): Promise<{ readonly markup: string; readonly bottomY: number }> {
  const lines = await wrapLines(text, widthPx, style.sizePx, style.weight);
  const shown = lines.slice(0, maxLines);
  if (lines.length > maxLines) {
    const rest = lines.slice(maxLines - 1).join(' ');
    shown[maxLines - 1] = (await fitLine(rest, widthPx, style.sizePx, style.sizePx, style.weight)).text;
  }
  const step = style.sizePx * 1.3;
  const markup = shown.map((line, i) => svgLine(x, firstBaselineY + i * step, line, style)).join('');
  return { markup, bottomY: firstBaselineY + Math.max(0, shown.length - 1) * step };
}
