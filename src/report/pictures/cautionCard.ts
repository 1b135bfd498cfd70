/** The card that stands before a film that flashes. */
import type { FilmLayout } from '../annotated/filmLayout.js';
import type { FlashCount } from '../annotated/flashes.js';
import { html } from '../markup.js';
import { fixed } from '../numberText.js';
import { darkPalette } from '../palette.js';
import { drawSvg, svgLine, svgSheet, wrapLines } from './lettering.js';

/** How long the card stands, s. */
export const CAUTION_S = 4;

/** One picture of the film, RGB: a sign, and in words what comes. */
export async function cautionCard(layout: FilmLayout, flashes: FlashCount): Promise<Uint8Array> {
  const { width, height } = layout;
  const p = darkPalette;
  const sizePx = Math.round(width / 26);
  const lines = await wrapLines(
    `Caution: this film flashes up to ${fixed(flashes.flashesPerS, 1)} times in a second. It can harm people with photosensitive epilepsy.`,
    width * 0.8,
    sizePx,
    600,
  );
  const side = sizePx * 3.4;
  const top = (height - side - lines.length * sizePx * 1.4) / 2;
  const cx = width / 2;
  const sign = html`<path d="M${cx} ${top}L${cx + side * 0.58} ${top + side}H${cx - side * 0.58}Z" fill="none" stroke="${p.model}" stroke-width="${sizePx / 4}" stroke-linejoin="round"/><path d="M${cx} ${top + side * 0.38}v${side * 0.28}" stroke="${p.model}" stroke-width="${sizePx / 3}" stroke-linecap="round"/><circle cx="${cx}" cy="${top + side * 0.82}" r="${sizePx / 5}" fill="${p.model}"/>`;
  const words = lines.map((text, i) =>
    svgLine(cx, top + side + sizePx * (1.9 + 1.4 * i), text, {
      sizePx,
      weight: 600,
      fill: p.ink,
      anchor: 'middle',
    }),
  );
  return (await drawSvg(svgSheet(width, height, sign.text + words.join('')), p.well)).bytes;
}
