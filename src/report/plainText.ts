/**
 * Makes strings that came out of files safe to print. A file name or a label can hold terminal escape sequences
 * or characters that reverse the reading order; neither belongs in a measurement.
 */

// Written as strings, since linters rightly distrust control characters in a pattern that does not hunt for them.
const regex = (source: string): RegExp => new RegExp(source, 'gu');
// ECMA-48 control sequences: OSC/DCS/SOS/PM/APC strings up to their terminator (5.6), then CSI (5.4) and the rest.
const CONTROL_STRING = regex(
  '(?:\\u001B[\\]PX^_]|[\\u0090\\u0098\\u009D-\\u009F])[^\\u0007\\u001B\\u009C]*(?:\\u0007|\\u001B\\\\|\\u009C)?',
);
const CONTROL_SEQUENCE = regex('(?:\\u001B\\[|\\u009B)[0-?]*[ -\\/]*[@-~]?|\\u001B[ -\\/]*[0-~]?');
const LINE_BREAKS = regex('[\\t-\\r\\u0085\\u2028\\u2029]+');
// C0, DEL and C1; Unicode bidi marks, embeddings, overrides and isolates (UAX #9 2.1 to 2.6); zero-width
// characters, tag characters and lone surrogates, which hide text.
const HIDDEN = regex(
  '[\\u0000-\\u001F\\u007F-\\u009F\\u00AD\\u061C\\u180E\\u200B-\\u200F\\u202A-\\u202E\\u2060-\\u206F\\uFEFF\\uFFF9-\\uFFFB\\u{E0000}-\\u{E007F}\\p{Cs}]',
);

/**
 * The text without control characters, ANSI sequences and characters that hide or reorder text; line breaks and
 * tabs become one space. Never throws.
 * @example plainText('birch\u001b[31m\n240p') // 'birch 240p'
 */
export function plainText(text: string): string {
  return text
    .replace(CONTROL_STRING, '')
    .replace(CONTROL_SEQUENCE, '')
    .replace(LINE_BREAKS, ' ')
    .replace(HIDDEN, '');
}
