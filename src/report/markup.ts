/** HTML and SVG text in which everything is escaped unless this file made it. */
import { plainText } from './plainText.js';

/** Text that is already markup. A class, so that no object read from a file can pass for one. */
export class Markup {
  /** The markup itself. */
  readonly text: string;

  constructor(text: string) {
    this.text = text;
  }
}

/** What may stand in a template: text and numbers are escaped, markup is kept, `null` and `false` vanish. */
export type MarkupValue = string | number | Markup | null | undefined | false | readonly MarkupValue[];

const ENTITIES: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
};

/** Printable ASCII that means nothing in markup: most of what is inserted, and nothing is to be done with it. */
const HARMLESS = /^[ !#-%(-;=?-~]*$/;

/** Text for element content or a quoted attribute; control and reordering characters are dropped. */
export function escapeText(text: string): string {
  if (HARMLESS.test(text)) return text;
  return plainText(text).replace(/[&<>"']/g, (character) => ENTITIES[character] ?? '');
}

function valueText(value: MarkupValue): string {
  if (value === null || value === undefined || value === false) return '';
  if (value instanceof Markup) return value.text;
  if (typeof value === 'number') return String(value);
  if (typeof value === 'string') return escapeText(value);
  return value.map(valueText).join('');
}

/**
 * Template tag: every inserted value is escaped unless it is `Markup`.
 * @example html`<p>${'a < b'}</p>`.text // '<p>a &lt; b</p>'
 */
export function html(parts: TemplateStringsArray, ...values: readonly MarkupValue[]): Markup {
  let text = parts[0] ?? '';
  for (let i = 0; i < values.length; i++) text += valueText(values[i]) + (parts[i + 1] ?? '');
  return new Markup(text);
}

/** Marks a string as markup. Only for strings that were built with `html`. */
export function asMarkup(text: string): Markup {
  return new Markup(text);
}

/** Text over several lines (for example JSON) for a `<pre>`: line breaks are kept, the rest is escaped. */
export function escapeLines(text: string): Markup {
  return new Markup(text.split('\n').map(escapeText).join('\n'));
}
