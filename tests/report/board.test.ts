/** The board as HTML, Markdown, CSV and JSON: order, words, links, and strings that want to break out. */

import { parse } from 'csv-parse/sync';
import { describe, expect, it } from 'vitest';
import { boardHtml, boardStyle } from '../../src/report/board/boardHtml.js';
import { boardRows, orderCaution } from '../../src/report/board/boardRows.js';
import {
  boardColumns,
  boardCsv,
  boardDocument,
  boardMarkdown,
  markdownText,
} from '../../src/report/board/boardTable.js';
import { relativeAddress } from '../../src/report/board/reportLink.js';
import { totalPlot } from '../../src/report/board/totalPlot.js';
import { cspHash } from '../../src/report/styleHash.js';
import { benchComparison, hostileComparison, NASTY } from './boardFixtures.js';
import { readMarkup } from './wellFormed.js';

const bench = benchComparison();
const hostile = hostileComparison();

describe('rows', () => {
  const rows = boardRows(bench);
  it('stand in the order of their delays, with ranks from 1', () => {
    const delays = rows.map((r) => r.headlineMs);
    expect(delays).toEqual([...delays].sort((a, b) => a - b));
    expect(rows.map((r) => r.rank)).toEqual([1, 2, 3, 4, 5]);
    expect(rows.map((r) => r.name).slice(2)).toEqual(['Birch', 'Rowan', 'Cedar']);
  });
  it('equal figures share a rank', () => {
    const twin = {
      ...bench,
      groups: [
        bench.groups[0]!,
        { ...bench.groups[0]!, name: 'Twin', labels: { chain: 'Twin' } },
        bench.groups[2]!,
      ],
    };
    expect(boardRows(twin).map((r) => r.rank)).toEqual([1, 1, 3]);
  });
  it('carry the kind of lag, the comparison and the clips of their group', () => {
    expect(Object.fromEntries(rows.map((r) => [r.name, r.lag]))).toMatchObject({
      Birch: 'fixed',
      Cedar: 'variable',
      Rowan: 'undecided',
    });
    const birch = rows.find((r) => r.name === 'Birch')!;
    expect(birch.comparison!.name).toBe('Birch');
    expect(birch.added).toMatch(/^\+4\.\d ms \(/);
    expect(birch.clips.map((c) => c.file)).toEqual(['birch-1.mp4', 'birch-2.mp4']);
    expect(rows.find((r) => r.name === 'Direct')!.added).toBe('baseline');
    expect(rows.find((r) => r.name === 'Cedar')!.spread).toContain('nine presses of ten');
  });
  it('says where the order is not sure, and only there', () => {
    expect(orderCaution(rows)).not.toBeNull();
    expect(orderCaution(rows.filter((r) => ['Direct', 'Birch', 'Cedar'].includes(r.name)))).toBeNull();
  });
});

describe('tables', () => {
  it('CSV has every column in every row, and the numbers of the comparison', () => {
    const table: string[][] = parse(boardCsv(bench));
    expect(table[0]).toEqual(['label_chain', ...boardColumns.map((c) => c.name)]);
    const fixed = table[0]!.indexOf('fixed_delay_ms');
    for (const line of table.slice(1)) {
      const group = bench.groups.find((g) => g.name === line[0])!;
      expect(Number(line[fixed])).toBeCloseTo(group.fixedDelayMs!, 3);
    }
    expect(boardCsv(bench)).toMatch(/\r\n$/);
  });
  it('no cell of a spreadsheet begins a formula', () => {
    const table: string[][] = parse(boardCsv(hostile));
    for (const cell of table.flat()) expect(cell).not.toMatch(/^[=+\-@\t\r]/);
    expect(table.flat().some((cell) => cell.startsWith("'=HYPERLINK"))).toBe(true);
  });
  it('JSON names columns with units, and has the same rows', () => {
    const document = boardDocument(bench);
    expect(JSON.parse(JSON.stringify(document))).toEqual(document);
    expect(document.rows).toHaveLength(bench.groups.length);
    for (const row of document.rows)
      expect(Object.keys(row)).toEqual(['label_chain', ...boardColumns.map((c) => c.name)]);
  });
  it('Markdown: a table of eight columns, links, and nothing that is markup of a label', () => {
    const lines = boardMarkdown(hostile)
      .split('\n')
      .filter((line) => line.startsWith('|'));
    expect(lines).toHaveLength(4);
    for (const line of lines) expect(line.match(/(?<!\\)\|/g)).toHaveLength(9);
    const text = boardMarkdown(hostile);
    expect(text).not.toMatch(/(?<!\\)<script/);
    expect(text).not.toMatch(/(?<!\\)\]\((?!\.)/);
    expect(text).not.toContain('\u202e');
    expect(markdownText('see https://example.invalid or www.example.invalid or a@b.invalid')).toBe(
      'see https\\://example.invalid or www\\.example.invalid or a\\@b.invalid',
    );
    expect(boardMarkdown(bench)).toContain('[birch-1.mp4](./birch-1.report.html)');
  });
});

describe('addresses', () => {
  it.each([
    ['a.report.html', './a.report.html'],
    ['bench/a b#1?.html', './bench/a%20b%231%3F.html'],
    ['../up/a.html', '../up/a.html'],
    ['javascript:alert(1)', './javascript%3Aalert%281%29'],
    ['//evil.invalid/x', null],
    ['/etc/passwd', null],
    ['C:\\x', null],
    ['', null],
    ['\ud800', './%EF%BF%BD'],
  ])('%s', (path, address) => expect(relativeAddress(path)).toBe(address));
});

describe('thumb to eye', () => {
  const plot = totalPlot(bench.budget!, 'total');
  it('stacks fixed delay, wait and stage of every group to its typical total, in words too', () => {
    const direct = bench.budget!.totals.find((t) => t.name === 'Direct')!;
    const parts = direct.parts.filter((p) => p.kind !== 'jitter');
    const sum = parts.reduce((total, p) => total + p.typicalMs, 0);
    expect(Math.abs(sum - direct.typicalMs)).toBeLessThan(0.5); // medians do not add exactly
    const widths = [...plot.matchAll(/<rect class="(bar|hatched|hollow)"[^>]* width="([\d.]+)"/g)].slice(
      0,
      3,
    );
    expect(widths.map((w) => w[1])).toEqual(['bar', 'hatched', 'hollow']);
    const drawn = widths.map((w) => Number(w[2]));
    const first = bench.budget!.totals[0]!.parts.filter((p) => p.kind !== 'jitter');
    first.forEach((part, i) => {
      expect(drawn[i]! / drawn[0]!).toBeCloseTo(part.typicalMs / first[0]!.typicalMs, 2);
    });
    expect(plot).toContain(`Direct: typically ${direct.typicalMs.toFixed(1)} ms (`);
    readMarkup(plot);
  });
});

describe('page', () => {
  it('says what was allowed although it does not compare, on the page and in Markdown', () => {
    const allowed = 'Allowed: the regions lie at different heights.';
    const made = { ...bench, comparisons: bench.comparisons.map((c) => ({ ...c, allowed: [allowed] })) };
    for (const text of [boardHtml(made), boardMarkdown(made)]) expect(text.split(allowed)).toHaveLength(2);
  });
  it.each([
    ['bench', bench],
    ['hostile', hostile],
    ['empty', { ...bench, groups: [], comparisons: [], clips: [], budget: null }],
  ])('%s: well-formed, its own style admitted and nothing else', (_, comparison) => {
    const page = boardHtml(comparison);
    readMarkup(page);
    expect(page).toContain(`style-src '${cspHash(boardStyle)}'`);
    expect(page).not.toMatch(/<script|<iframe|<link rel="stylesheet|\son\w+="|\sstyle="/);
    expect(page).not.toMatch(/(?:href|src)="(?!\.|#|data:,)/);
    expect(page).not.toContain('\u202e');
  });
  it('shows the hostile name as text', () => {
    expect(boardHtml(hostile)).toContain('&lt;script&gt;alert(1)&lt;/script&gt;');
    expect(NASTY).toContain('<script>');
  });
  it('ranks, links every report, cites the zero check, and says each kind in words', () => {
    const page = boardHtml(bench);
    for (const { report } of bench.clips) expect(page).toContain(`href="./${report}"`);
    expect(page).toContain('No zero check');
    for (const word of ['the same for every press', 'wanders from press to press', 'too few presses to tell'])
      expect(page).toContain(word);
    expect(page.indexOf('>Direct<')).toBeLessThan(page.indexOf('>Cedar<'));
    expect(boardHtml(bench)).toBe(page);
  });
});
