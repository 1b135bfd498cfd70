/** Names and labels out of files in every place that prints them: nothing breaks out of a table, a page or a terminal. */
import { parse } from 'csv-parse/sync';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { compareRecords } from '../../src/compare/compareRecords.js';
import { toJsonText } from '../../src/record/files.js';
import type { ClipRecord } from '../../src/record/record.js';
import { boardHtml } from '../../src/report/board/boardHtml.js';
import { boardCsv, boardMarkdown } from '../../src/report/board/boardTable.js';
import { renderComparison } from '../../src/report/comparisonText.js';
import { renderPressesCsv } from '../../src/report/pressesCsv.js';
import { renderReport } from '../../src/report/reportHtml.js';
import { renderSession } from '../../src/report/sessionText.js';
import { renderSummary } from '../../src/report/summaryText.js';
import { columnsOf } from '../../src/report/terminal.js';
import { madeRecord } from '../compare/madeRecord.js';
import { anyText } from '../fuzz/documents.js';
import { evidenceOf, recordOf } from './fixtures.js';
import { readMarkup } from './wellFormed.js';

/** Controls but the line end; zero-width, bidi and separator characters. */
// biome-ignore lint/suspicious/noControlCharactersInRegex: they are what must not be there
const UNSAFE = /[\u0000-\u0009\u000b-\u001f\u007f-\u009f\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff]/;
const RUNS = { seed: 99, numRuns: 120 };
const name = anyText.filter((text) => text !== '');

/** Keys as a JSON file has them: own properties, whatever they are called. */
const labelled = (entries: readonly (readonly [string, string])[]) => Object.fromEntries(entries);

function recordWith(file: string, region: string, labels: Readonly<Record<string, string>>): ClipRecord {
  const record = recordOf({ presses: 6, delaysMs: { [region]: 50 } });
  return {
    ...record,
    clip: { ...record.clip, file },
    recipe: { ...record.recipe, labels },
    warnings: [...record.warnings, file],
  };
}

const record = fc
  .tuple(name, name, fc.array(fc.tuple(name, anyText), { minLength: 1, maxLength: 3 }))
  .map(([file, region, labels]) => recordWith(file, region, labelled(labels)));

function comparisonOf(region: string, key: string, values: readonly [string, string], file: string) {
  const inputs = values.map((value, k) => {
    const latenciesMs = Array.from({ length: 12 }, (_, i) => 50 + 4 * k + ((i * 7) % 12));
    const made = madeRecord(`${file}${k}.mp4`, {
      labels: labelled([[key, value]]),
      regions: [{ name: region, latenciesMs }],
    });
    return { ...made, recordPath: `${file}${k}.record.json`, reportPath: `${file}${k}.report.html` };
  });
  return compareRecords(inputs, { by: [key], baseline: labelled([[key, values[0]]]) });
}
const comparison = fc
  .tuple(
    name,
    name,
    fc.tuple(name, name).filter(([a, b]) => a !== b),
    name,
  )
  .map((parts) => comparisonOf(...parts));

/** What a spreadsheet may take for a formula (OWASP, "CSV Injection"). */
const FORMULA = /^[=+\-@\t\r\n]/;
const isNumber = (cell: string) => /^-?\d+(\.\d+)?(e-?\d+)?$/i.test(cell);

function expectSafeTable(text: string): void {
  const rows: string[][] = parse(text, { relax_column_count: false });
  for (const cell of rows.flat()) if (!isNumber(cell)) expect(cell).not.toMatch(FORMULA);
}

function expectSafePage(page: string): void {
  expect(page).not.toMatch(UNSAFE);
  for (const { name: tag, attributes } of readMarkup(page).tags) {
    expect(['script', 'iframe', 'object', 'embed', 'base', 'form']).not.toContain(tag);
    // The pages name an empty icon, so that browsers ask for none.
    if (tag === 'link')
      expect([...attributes]).toEqual([
        ['rel', 'icon'],
        ['href', 'data:,'],
      ]);
    for (const [key, value] of attributes) {
      expect(key).not.toMatch(/^on/i);
      if (/^(href|src)$/.test(key)) expect(value).not.toMatch(/^\s*(javascript|vbscript|data:text)/i);
    }
  }
}

describe('a record with any names', () => {
  it('at the terminal: no control, direction or hidden character, and no line wider than the terminal', () => {
    fc.assert(
      fc.property(record, fc.constantFrom(40, 80, 200), (one, width) => {
        for (const text of [
          renderSummary(one, { colour: false, width }),
          renderSession([one, one], { colour: false, width }),
        ])
          expect(text).not.toMatch(UNSAFE);
        for (const line of renderSummary(one, { colour: false, width }).split('\n'))
          expect(columnsOf(line)).toBeLessThanOrEqual(width);
      }),
      RUNS,
    );
  });
  it('as a table: no cell that is taken for a formula', () => {
    fc.assert(
      fc.property(record, (one) => expectSafeTable(renderPressesCsv(one))),
      RUNS,
    );
  });
  it('as a page: whole markup, no script, no handler, no address that runs', () => {
    fc.assert(
      fc.property(record, (one) => expectSafePage(renderReport(one, evidenceOf(one, 4)))),
      { ...RUNS, numRuns: 40 },
    );
  });
  it('as JSON: the same text back, and nothing raw that acts on a terminal', () => {
    fc.assert(
      fc.property(record, (one) => {
        const text = toJsonText(one);
        expect(text).not.toMatch(UNSAFE);
        expect(JSON.parse(text)).toEqual(JSON.parse(JSON.stringify(one)));
      }),
      RUNS,
    );
  });
});

describe('a comparison with any names', () => {
  it('at the terminal, as table, Markdown and page', () => {
    fc.assert(
      fc.property(comparison, (one) => {
        expect(renderComparison(one, { colour: false, width: 100 })).not.toMatch(UNSAFE);
        expectSafeTable(boardCsv(one));
        const markdown = boardMarkdown(one);
        expect(markdown).not.toMatch(UNSAFE);
        expect(markdown).not.toMatch(/(?<!\\)<(\/|script|img|svg|a)/i);
        expectSafePage(boardHtml(one));
      }),
      { ...RUNS, numRuns: 40 },
    );
  });
});
