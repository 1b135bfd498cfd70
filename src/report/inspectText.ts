/** The words of `inspect`: facts, clock and fitness of a clip as aligned lines. */
import { plainText } from './plainText.js';
import { columnsOf, pad, paint, type TerminalOptions, wrap } from './terminal.js';

/** One line: a name, a value, and sentences that explain or warn. */
export interface InspectRow {
  readonly label: string;
  readonly value: string;
  /** Sentences; printed below the value. */
  readonly notes: readonly string[];
}

/** A group of lines under a heading. */
export interface InspectSection {
  readonly title: string;
  readonly rows: readonly InspectRow[];
}

/** What `inspect` shows: plain data, made by the caller from facts, clock and fitness. */
export interface InspectView {
  /** Usually the file's base name. */
  readonly title: string;
  readonly sections: readonly InspectSection[];
}

/**
 * Aligned lines ending in a line break. All strings may come from files: control and reordering characters are
 * dropped. Labels wider than a third of the width stand on a line of their own. Pure.
 */
export function renderInspect(view: InspectView, options: TerminalOptions): string {
  const width = Math.max(40, Math.floor(options.width));
  const limit = Math.floor(width / 3);
  const labels = view.sections.flatMap((s) => s.rows.map((r) => columnsOf(plainText(r.label))));
  const labelColumns = Math.min(limit, Math.max(0, ...labels));
  const indent = ' '.repeat(2 + labelColumns + 2);
  const lines = wrap(plainText(view.title), width).map((line) => paint(line, 'strong', options.colour));
  for (const section of view.sections) {
    lines.push('', paint(plainText(section.title), 'strong', options.colour));
    for (const row of section.rows) {
      const label = plainText(row.label);
      let lead = `  ${pad(label, labelColumns, 'right')}  `;
      if (columnsOf(label) > labelColumns) {
        lines.push(...wrap(label, width, '  '));
        lead = indent;
      }
      lines.push(...wrap(plainText(row.value), width, lead, indent).map((line) => line.trimEnd()));
      for (const note of row.notes) {
        for (const line of wrap(plainText(note), width, indent))
          lines.push(paint(line, 'faint', options.colour));
      }
    }
  }
  return `${lines.join('\n')}\n`;
}
