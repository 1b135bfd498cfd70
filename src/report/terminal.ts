/** Words and tables for a terminal: wrapping, columns, and a little paint where the stream can show it. */

/** How a text is laid out for a terminal. */
export interface TerminalOptions {
  /** ANSI colours; false where the stream is no terminal. */
  readonly colour: boolean;
  /** Columns; values below 40 are taken as 40. */
  readonly width: number;
}

/** What a piece of text is: headings, side notes, warnings, the measured figure. */
export type Paint = 'strong' | 'faint' | 'warn' | 'figure';

// ECMA-48 8.3.117 (SGR): 1 bold, 2 faint, 33 yellow, 36 cyan; 22 and 39 take them back.
const CODES: Readonly<Record<Paint, readonly [string, string]>> = {
  strong: ['1', '22'],
  faint: ['2', '22'],
  warn: ['33', '39'],
  figure: ['1;36', '22;39'],
};

/** The text in the given paint, or as it is without colour. */
export function paint(text: string, kind: Paint, colour: boolean): string {
  const [on, off] = CODES[kind];
  return colour && text !== '' ? `\u001B[${on}m${text}\u001B[${off}m` : text;
}

// Ranges that terminals show two columns wide (East Asian wide and emoji; Unicode UAX #11, coarse).
const WIDE =
  /[\u1100-\u115F\u2E80-\uA4CF\uAC00-\uD7A3\uF900-\uFAFF\uFE30-\uFE6F\uFF00-\uFF60\uFFE0-\uFFE6\u{1F300}-\u{1FAFF}\u{20000}-\u{3FFFD}]/u;

/** Terminal columns that a text without escape sequences takes: marks none, wide characters two. */
export function columnsOf(text: string): number {
  let columns = 0;
  for (const character of text) if (!/\p{M}/u.test(character)) columns += WIDE.test(character) ? 2 : 1;
  return columns;
}

/** Pads to a number of columns. */
export function pad(text: string, columns: number, side: 'left' | 'right'): string {
  const space = ' '.repeat(Math.max(0, columns - columnsOf(text)));
  return side === 'left' ? space + text : text + space;
}

function* pieces(word: string, columns: number): Generator<string> {
  let piece = '';
  for (const character of word) {
    if (piece !== '' && columnsOf(piece + character) > columns) {
      yield piece;
      piece = '';
    }
    piece += character;
  }
  yield piece;
}

/** Breaks a text at spaces to lines of at most `width` columns; words longer than a line are cut. */
export function wrap(text: string, width: number, firstIndent = '', nextIndent = firstIndent): string[] {
  const lines: string[] = [];
  let line = firstIndent;
  let empty = true;
  const room = Math.max(8, width - Math.max(columnsOf(firstIndent), columnsOf(nextIndent)));
  for (const word of text.split(' ').filter((w) => w !== '')) {
    for (const piece of pieces(word, room)) {
      const joined = empty ? line + piece : `${line} ${piece}`;
      if (!empty && columnsOf(joined) > width) {
        lines.push(line);
        line = nextIndent + piece;
      } else line = joined;
      empty = false;
    }
  }
  lines.push(line);
  return lines;
}

/** Lines of a table: first column left, the others right; `null` where it does not fit the width. */
export function columnTable(
  rows: readonly (readonly string[])[],
  width: number,
  leftColumns = 1,
): string[] | null {
  const count = Math.max(0, ...rows.map((row) => row.length));
  const widths = Array.from({ length: count }, (_, c) =>
    Math.max(0, ...rows.map((row) => columnsOf(row[c] ?? ''))),
  );
  const total = widths.reduce((sum, w) => sum + w, 0) + 2 * Math.max(0, count - 1);
  if (total > width) return null;
  return rows.map((row) =>
    widths
      .map((w, c) => pad(row[c] ?? '', w, c < leftColumns ? 'right' : 'left'))
      .join('  ')
      .trimEnd(),
  );
}
