/** What the counter of an annotated clip shows. */
import { fixed } from '../numberText.js';
import { COUNTER_WHOLE } from './filmLayout.js';

/** Characters of the counter's cells from left to right: spaces, the whole part, the point, one decimal. */
export function counterText(counterMs: number): string {
  const text = fixed(counterMs, 1);
  // Times beyond five characters do not occur in a response window of ten seconds at most.
  return text.padStart(COUNTER_WHOLE + 2).slice(-(COUNTER_WHOLE + 2));
}

/** The characters that have a glyph. */
export const COUNTER_GLYPHS = '0123456789-.';
