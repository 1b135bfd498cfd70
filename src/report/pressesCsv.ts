/**
 * The table of presses for a spreadsheet, R or pandas: one row a press and screen region.
 * RFC 4180: comma, CRLF after every row (section 2 items 1 and 2), a header (item 3), quotes around cells with a
 * comma, quote or line break (item 6), quotes doubled (item 7). UTF-8 without a byte order mark.
 */
import type { ClipRecord, PressRecord, ResponseRecord } from '../record/record.js';
import { labelsOf, screenRegions, summaryOf } from './headline.js';
import { short } from './numberText.js';

/** What a column may draw from. */
export interface PressRow {
  readonly record: ClipRecord;
  readonly press: PressRecord;
  readonly region: string;
  /** Null where the press was not looked for in this region (for example an excluded press). */
  readonly response: ResponseRecord | null;
  readonly displayFrameMs: number | null;
}

/** One column: its name, unit, meaning, and how to fill it. A text cell is guarded against formulas. */
export interface PressColumn {
  readonly name: string;
  /** `s`, `ms`, `display frames`, or `` for words and counts. */
  readonly unit: string;
  readonly meaning: string;
  readonly kind: 'text' | 'number';
  readonly value: (row: PressRow) => string | number | null | undefined;
}

const text = (name: string, meaning: string, value: PressColumn['value']): PressColumn => ({
  name,
  unit: '',
  meaning,
  kind: 'text',
  value,
});
const number = (name: string, unit: string, meaning: string, value: PressColumn['value']): PressColumn => ({
  name,
  unit,
  meaning,
  kind: 'number',
  value,
});
const clock = 's on the capture clock from the first camera frame';

/** Every fixed column in order; after them come `label_NAME` columns, one for each label that the recipe has. */
export const pressColumns: readonly PressColumn[] = [
  text('clip', 'file name of the clip', (r) => r.record.clip.file),
  text('region', 'name of the screen region', (r) => r.region),
  number('press', '', 'number of the press in the clip, from 1', (r) => r.press.index),
  text('press_status', 'measured, no-response, ambiguous or excluded', (r) => r.press.status),
  text(
    'response_status',
    'measured, no-response or ambiguous; empty if not looked for',
    (r) => r.response?.status,
  ),
  number('press_at_s', 's', `LED onset, ${clock}`, (r) => r.press.ledOnsetS),
  number(
    'press_uncertainty_ms',
    'ms',
    'standard uncertainty (k = 1) of the LED onset',
    (r) => r.press.ledOnsetUncertaintyMs,
  ),
  number('first_light_s', 's', `first light of the response, ${clock}`, (r) => r.response?.firstLightS),
  number('onset_s', 's', `response at the recipe's level, ${clock}`, (r) => r.response?.onsetS),
  number('half_s', 's', `response at 50 %, ${clock}`, (r) => r.response?.halfS),
  number('settled_s', 's', `response at 90 %, ${clock}`, (r) => r.response?.settledS),
  number('latency_ms', 'ms', 'response onset minus press, corrected', (r) => r.response?.latencyMs),
  number(
    'uncertainty_ms',
    'ms',
    'standard uncertainty (k = 1) of the latency',
    (r) => r.response?.uncertaintyMs,
  ),
  number('interval_low_ms', 'ms', 'lower end of the 95 % interval', (r) => r.response?.intervalMs?.[0]),
  number('interval_high_ms', 'ms', 'upper end of the 95 % interval', (r) => r.response?.intervalMs?.[1]),
  number(
    'latency_display_frames',
    'display frames',
    'latency over the display refresh; empty if unknown',
    (r) =>
      r.response?.latencyMs === undefined || r.displayFrameMs === null
        ? null
        : r.response.latencyMs / r.displayFrameMs,
  ),
  text('press_flags', 'flags of the press, joined by ;', (r) => r.press.flags.join(';')),
  text('flags', 'flags of the response, joined by ;', (r) => r.response?.flags.join(';')),
  text('reason', 'why a press is excluded or ambiguous', (r) => r.press.reason),
  text('clip_sha256', 'SHA-256 of the clip', (r) => r.record.clip.sha256),
  text('lagreel_version', 'version that measured', (r) => r.record.tool.version),
];

/** Decimals of a number cell: 1 microsecond for times and latencies, 5 for display frames. */
const DECIMALS: Readonly<Record<string, number>> = { s: 6, ms: 3, 'display frames': 5, '': 0 };

/**
 * A text cell that no spreadsheet takes for a formula: a leading = + - @ TAB, CR or LF gets an apostrophe before it
 * (OWASP, "CSV Injection").
 */
export function guardFormula(cell: string): string {
  return /^[=+\-@\t\r\n]/.test(cell) ? `'${cell}` : cell;
}

/** RFC 4180 section 2 items 5 to 7. */
export function quoteCell(cell: string): string {
  return /[",\r\n]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell;
}

function cellText(column: PressColumn, row: PressRow): string {
  const value = column.value(row);
  if (value === null || value === undefined) return '';
  if (typeof value === 'number')
    return Number.isFinite(value) ? short(value, DECIMALS[column.unit] ?? 3) : '';
  return quoteCell(guardFormula(value));
}

/**
 * The table as text. Rows: presses in order, and in each the screen regions in the recipe's order; a press that has
 * no response in a region still has its row. Empty cells mean "not there", never zero. Pure.
 */
export function renderPressesCsv(record: ClipRecord): string {
  const regions = screenRegions(record);
  const labels = new Map(regions.map((region) => [region, labelsOf(record, region)]));
  const labelNames = [...new Set([...labels.values()].flatMap((own) => Object.keys(own)))].sort();
  const header = [...pressColumns.map((c) => c.name), ...labelNames.map((name) => `label_${name}`)];
  const lines = [header.map(quoteCell).join(',')];
  for (const press of record.presses) {
    for (const region of regions) {
      const response = press.responses.find((r) => r.region === region) ?? null;
      const displayFrameMs = summaryOf(record, region)?.displayFrameMs ?? null;
      const row: PressRow = { record, press, region, response, displayFrameMs };
      const own = labels.get(region) ?? {};
      lines.push(
        [
          ...pressColumns.map((column) => cellText(column, row)),
          ...labelNames.map((name) =>
            quoteCell(guardFormula(Object.hasOwn(own, name) ? (own[name] ?? '') : '')),
          ),
        ].join(','),
      );
    }
  }
  return `${lines.join('\r\n')}\r\n`;
}
