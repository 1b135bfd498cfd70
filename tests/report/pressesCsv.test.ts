import { describe, expect, it } from 'vitest';
import { guardFormula, pressColumns, quoteCell, renderPressesCsv } from '../../src/report/pressesCsv.js';
import { HOSTILE, hostileRecord, noResponseRecord, normalRecord } from './fixtures.js';

/** A strict RFC 4180 reader: throws on bare quotes and bare line breaks. */
function parseCsv(text: string): string[][] {
  const rows: string[][] = [];
  let row: string[] = [];
  let at = 0;
  while (at < text.length) {
    let cell = '';
    if (text[at] === '"') {
      at++;
      for (;;) {
        if (at >= text.length) throw new Error('quote left open');
        if (text[at] === '"' && text[at + 1] === '"') {
          cell += '"';
          at += 2;
        } else if (text[at] === '"') {
          at++;
          break;
        } else cell += text[at++];
      }
    } else {
      while (at < text.length && text[at] !== ',' && text[at] !== '\r') {
        if (text[at] === '"' || text[at] === '\n') throw new Error(`bare ${JSON.stringify(text[at])}`);
        cell += text[at++];
      }
    }
    row.push(cell);
    if (text[at] === ',') at++;
    else if (text.startsWith('\r\n', at)) {
      at += 2;
      rows.push(row);
      row = [];
    } else throw new Error(`cell ends oddly at ${at}`);
  }
  if (row.length > 0) throw new Error('no line break at the end');
  return rows;
}

function asObjects(text: string): Record<string, string>[] {
  const [header = [], ...rows] = parseCsv(text);
  for (const row of rows) expect(row).toHaveLength(header.length);
  return rows.map((row) => Object.fromEntries(header.map((name, i) => [name, row[i] ?? ''])));
}

describe('renderPressesCsv', () => {
  it('has one row a press and screen region, and reads back to the record', () => {
    const record = normalRecord();
    const rows = asObjects(renderPressesCsv(record));
    expect(rows).toHaveLength(14 * 2);
    for (const row of rows) {
      const press = record.presses[Number(row.press) - 1]!;
      const response = press.responses.find((r) => r.region === row.region);
      expect(row.press_status).toBe(press.status);
      expect(Number(row.press_at_s)).toBeCloseTo(press.ledOnsetS, 6);
      if (response?.latencyMs === undefined) {
        expect(row.latency_ms).toBe('');
        expect(row.onset_s).toBe('');
        expect(row.latency_display_frames).toBe('');
        continue;
      }
      expect(Math.abs(Number(row.latency_ms) - response.latencyMs)).toBeLessThanOrEqual(0.0005 + 1e-9);
      expect(Math.abs(Number(row.onset_s) - response.onsetS!)).toBeLessThanOrEqual(5e-7 + 1e-12);
      expect(Number(row.interval_low_ms)).toBeCloseTo(response.intervalMs![0], 3);
      expect(Number(row.interval_high_ms)).toBeCloseTo(response.intervalMs![1], 3);
      expect(Number(row.latency_display_frames)).toBeCloseTo(response.latencyMs * 0.06, 4);
    }
    expect(rows[0]!.label_chain).toBe('Birch');
    expect(rows.find((r) => r.press === '5')!.press_flags).toBe('dropped-frame');
    expect(rows.find((r) => r.press === '13')!.reason).toBe('two buttons');
    expect(rows.find((r) => r.press === '13')!.response_status).toBe('');
  });

  it('documents every column with a unit that its name carries', () => {
    const header = parseCsv(renderPressesCsv(normalRecord()))[0]!;
    expect(header.slice(0, pressColumns.length)).toEqual(pressColumns.map((c) => c.name));
    expect(header.slice(pressColumns.length)).toEqual(['label_chain', 'label_display', 'label_mode']);
    for (const column of pressColumns) {
      expect(column.meaning.length).toBeGreaterThan(8);
      if (column.unit === 's') expect(column.name).toMatch(/_s$/);
      if (column.unit === 'ms') expect(column.name).toMatch(/_ms$/);
      if (column.kind === 'text') expect(column.unit).toBe('');
    }
    expect(new Set(header).size).toBe(header.length);
  });

  it('keeps a row for presses without any answer', () => {
    const rows = asObjects(renderPressesCsv(noResponseRecord()));
    expect(rows.map((r) => r.response_status)).toEqual(['no-response', 'no-response', 'no-response']);
  });

  it('guards formulas in text cells and leaves numbers alone', () => {
    const base = hostileRecord();
    const record = {
      ...base,
      recipe: {
        ...base.recipe,
        labels: { formula: '=1+1', tab: '\tx', minus: '-2', at: '@SUM(A1)', plus: '+1', cr: '\rx' },
      },
      presses: base.presses.map((p) => ({ ...p, ledOnsetS: -0.25 })),
    };
    const row = asObjects(renderPressesCsv(record))[0]!;
    expect(row.label_formula).toBe("'=1+1");
    expect(row.label_minus).toBe("'-2");
    expect(row.label_at).toBe("'@SUM(A1)");
    expect(row.label_plus).toBe("'+1");
    expect(row.label_tab).toBe("'\tx");
    expect(row.label_cr).toBe("'\rx");
    expect(row.press_at_s).toBe('-0.25');
    expect(row.reason).toBe(HOSTILE);
  });

  it('quotes by RFC 4180', () => {
    expect(quoteCell('a')).toBe('a');
    expect(quoteCell('a,b')).toBe('"a,b"');
    expect(quoteCell('a"b')).toBe('"a""b"');
    expect(quoteCell('a\nb')).toBe('"a\nb"');
    expect(guardFormula('a=1')).toBe('a=1');
    expect(guardFormula('')).toBe('');
  });
});
