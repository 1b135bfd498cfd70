/** A bar of one delay on a card: length, wait or spread, interval, presses. Meaning by shape: solid, hatched, open range. */
import type { LagKind } from '../lagSign.js';
import { html } from '../markup.js';
import { short } from '../numberText.js';
import type { Palette } from '../palette.js';

/** What a bar shows, ms. */
export interface DelayBar {
  readonly lag: LagKind;
  readonly delayMs: number;
  readonly intervalMs: readonly [number, number] | null;
  /** Fixed lag: from the delay over the wait; else where most presses lie. */
  readonly spreadMs: readonly [number, number];
  readonly latenciesMs: readonly number[];
}

const at = (value: number): string => short(value, 2);
const MAX_DOTS = 240;

/** SVG of a bar `heightPx` high with its dots beneath it; `x` from ms to px. */
export function delayBarSvg(
  bar: DelayBar,
  x: (ms: number) => number,
  topPx: number,
  heightPx: number,
  p: Palette,
): string {
  const [from, to] = [x(bar.spreadMs[0]), x(bar.spreadMs[1])];
  const middle = topPx + heightPx / 2;
  const thin = heightPx * 0.34;
  const rect = (left: number, right: number, y: number, h: number, fill: string, stroke: string | null) =>
    html`<rect x="${at(left)}" y="${at(y)}" width="${at(Math.max(0, right - left))}" height="${at(h)}" fill="${fill}"${stroke === null ? null : html` stroke="${stroke}" stroke-width="3"`}/>`;
  const line = (d: string, stroke: string, width: number) =>
    html`<path d="${d}" fill="none" stroke="${stroke}" stroke-width="${at(width)}"/>`;
  const tick = (px: number, h: number) => `M${at(px)} ${at(middle - h / 2)}v${at(h)}`;
  const body =
    bar.lag === 'fixed'
      ? html`${rect(x(0), x(bar.delayMs), topPx, heightPx, p.accent, null)}${rect(from, to, topPx, heightPx, 'url(#card-hatch)', p.model)}`
      : html`${rect(x(0), from, middle - thin / 2, thin, p.accent, null)}${line(`${tick(from, heightPx)}${tick(to, heightPx)}M${at(from)} ${at(middle)}H${at(to)}`, p.model, 7)}`;
  const interval =
    bar.intervalMs === null
      ? null
      : [p.paper, p.ink].map((colour, i) => {
          const [low, high] = [x(bar.intervalMs![0]), x(bar.intervalMs![1])];
          return line(
            `${tick(low, heightPx + 14)}${tick(high, heightPx + 14)}M${at(low)} ${at(middle)}H${at(high)}`,
            colour,
            i === 0 ? 13 : 6,
          );
        });
  const stride = Math.max(1, Math.ceil(bar.latenciesMs.length / MAX_DOTS));
  const dots = bar.latenciesMs
    .filter((_, i) => i % stride === 0)
    .map((ms) => `M${at(x(ms))} ${at(topPx + heightPx + 26)}h0`)
    .join('');
  return html`${body}${interval}<path d="${dots}" fill="none" stroke="${p.muted}" stroke-width="10" stroke-linecap="round" stroke-opacity="0.7"/>`
    .text;
}
