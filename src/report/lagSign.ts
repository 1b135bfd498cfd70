/** Fixed, variable, undecided: told by a sign of its own shape and by a word, so that colour is never needed. */
import { html, type Markup } from './markup.js';
import { short } from './numberText.js';

/** Whether a lag is the same for every press. */
export type LagKind = 'fixed' | 'variable' | 'undecided';

/** The word, and what it means in one line. */
export const LAG_WORDS: Readonly<Record<LagKind, { readonly word: string; readonly meaning: string }>> = {
  fixed: { word: 'fixed', meaning: 'the same for every press' },
  variable: { word: 'variable', meaning: 'wanders from press to press' },
  undecided: { word: 'undecided', meaning: 'too few presses to tell' },
};

/**
 * The sign in a square of `size` around a middle: fixed a level bar on a full disc, variable a wave, undecided a dashed
 * ring. Its colours come from `signStyle`, so that a page needs no style attributes.
 */
export function lagSign(kind: LagKind, middleX: number, middleY: number, size: number): Markup {
  const at = (value: number): string => short(value, 3);
  const place = `translate(${at(middleX - size / 2)} ${at(middleY - size / 2)}) scale(${at(size / 20)})`;
  return html`<g class="sign" transform="${place}">${SIGNS[kind]}</g>`;
}

const SIGNS: Readonly<Record<LagKind, Markup>> = {
  fixed: html`<circle class="sign-disc" cx="10" cy="10" r="9.5"/><path class="sign-level" d="M4.6 10h10.8"/>`,
  variable: html`<path class="sign-wave" d="M1.4 10q2.15 -11 4.3 0t4.3 0 4.3 0 4.3 0"/>`,
  undecided: html`<circle class="sign-ring" cx="10" cy="10" r="8.2"/>`,
};

/** CSS rules of the signs; `ink` and `paper` are colours, or custom properties on a page. */
export function signStyle(ink: string, paper: string): string {
  return `
.sign .sign-disc{fill:${ink};stroke:none}
.sign .sign-level{fill:none;stroke:${paper};stroke-width:3.6}
.sign .sign-wave{fill:none;stroke:${ink};stroke-width:3;stroke-linecap:round;stroke-linejoin:round}
.sign .sign-ring{fill:none;stroke:${ink};stroke-width:3;stroke-dasharray:3.9 2.54}`.trim();
}
