/** Holds the source to the house table of DEVELOPERS.md. Every rule is also shown to catch a planted breach. */
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import {
  clocksAndRandom,
  cycles,
  emptyNames,
  misplacedBuiltins,
  misplacedPackages,
  missingTargets,
  nodeReachableFrom,
  tableBreaches,
  tooLong,
  undocumented,
} from './houseRules.js';
import { DEPARTURES, HOUSE, LONG_FILES } from './houseTable.js';
import { importsOf, readSources, roomOf, type SourceText } from './sourceTree.js';

const sources = readSources(fileURLToPath(new URL('../src', import.meta.url)));
const testPaths = readSources(fileURLToPath(new URL('.', import.meta.url))).map((s) => s.path);

// Progress at the terminal is drawn against a clock and the reading of a clip reports on it; the desk waits, plays and
// expires by one. No number comes from it.
const CLOCK_PLACES = ['cli/terminal.ts', 'clip/readPass.ts', 'desk/server', 'desk/page'];

describe('the source keeps the house rules', () => {
  it('the source was read', () => {
    expect(sources.length).toBeGreaterThan(100);
    expect(sources.flatMap(importsOf).length).toBeGreaterThan(300);
  });
  it('every import stands in the table, or is a departure with a reason', () => {
    expect(tableBreaches(sources, DEPARTURES)).toEqual([]);
  });
  it('every row of the table is there', () => {
    const rooms = new Set(sources.map((s) => roomOf(s.path)));
    expect(Object.keys(HOUSE).filter((row) => !rooms.has(row))).toEqual([]);
  });
  it('no file imports itself by any way, types counted', () => {
    expect(cycles(sources)).toEqual([]);
  });
  it('every relative import finds its file', () => {
    expect(missingTargets(sources)).toEqual([]);
  });
  it('Node built-ins stand only where files, processes and the terminal are', () => {
    expect(misplacedBuiltins(sources)).toEqual([]);
  });
  it('nothing of Node can be reached from the pure library', () => {
    expect(nodeReachableFrom('index.ts', sources)).toEqual([]);
  });
  it("nothing of Node can be reached from the desk's page", () => {
    expect(nodeReachableFrom('desk/page/main.ts', sources)).toEqual([]);
  });
  it('every npm package stays behind its own room', () => {
    expect(misplacedPackages(sources)).toEqual([]);
  });
  it('no room or file has a name that says nothing', () => {
    expect(emptyNames([...sources.map((s) => s.path), ...testPaths])).toEqual([]);
  });
  it('every exported name has a docstring', () => {
    expect(undocumented(sources)).toEqual([]);
  });
  it('files stay short', () => {
    expect(tooLong(sources, LONG_FILES)).toEqual([]);
  });
  it('no clock and no unseeded randomness enters a number', () => {
    expect(clocksAndRandom(sources, CLOCK_PLACES)).toEqual([]);
  });
});

const file = (path: string, text: string): SourceText => ({ path, text });

describe('each rule catches what is planted', () => {
  it.each([
    ['trace/planted.ts', "import type { X } from '../onset/onset.js';", 'a stage further on, as a type'],
    ['measure.ts', "import { renderReport } from './report/reportHtml.js';", 'a report in the conductor'],
    ['press/planted.ts', "import { readFacts } from '../clip/readFacts.js';", 'a stage further back'],
    ['simulate/planted.ts', "import { runFfmpeg } from '../clip/ffmpeg.js';", 'more than the contract'],
    ['simulate/planted.ts', "export * from '../measure.js';", 'a re-export'],
    ['record/planted.ts', "import { summarise } from '../latency/summarise.js';", 'run time where types may'],
    ['cli/planted.ts', "const x = await import('../stats/quantile.js');", 'a dynamic import'],
    ['report/planted.ts', "type T = import('../onset/onset.js').Onset;", 'a type in brackets'],
    ['attic/planted.ts', 'export {};', 'a room that the table does not know'],
  ])('import table: %s, %s (%s)', (path, text) => {
    expect(tableBreaches([file(path, text)], []).join()).toContain(`src/${path}`);
  });
  it('import table: types may go where run time may not', () => {
    const planted = file('record/planted.ts', "import type { S } from '../latency/summarise.js';");
    expect(tableBreaches([planted], [])).toEqual([]);
  });
  it('import table: a departure that excuses nothing', () => {
    const idle = { from: 'press', to: 'record', reason: 'planted' };
    expect(tableBreaches(sources, [...DEPARTURES, idle]).join()).toContain('press -> record');
  });
  it('import table: each known departure is really one', () => {
    for (const d of DEPARTURES) {
      const others = DEPARTURES.filter((o) => o !== d);
      expect(tableBreaches(sources, others).length, d.from).toBeGreaterThan(0);
    }
  });
  it('cycles: of types, of three files, of one', () => {
    const a = file('trace/a.ts', "import type { B } from './b.js';");
    const b = file('trace/b.ts', "export { C } from './c.js';");
    const c = file('trace/c.ts', "import { a } from './a.js';");
    expect(cycles([...sources, a, b, c])).toContain('trace/a.ts <-> trace/b.ts <-> trace/c.ts');
    expect(cycles([file('x.ts', "import './x.js';")])).toEqual(['x.ts']);
    expect(cycles([a, b])).toEqual([]);
  });
  it('a relative import of nothing', () => {
    expect(missingTargets([file('trace/a.ts', "import './gone.js';")])).toHaveLength(1);
  });
  it('built-ins out of place, with and without node:', () => {
    const planted = [
      file('stats/a.ts', "import { readFileSync } from 'node:fs';"),
      file('report/b.ts', "import fs from 'fs/promises';"),
      file('clip/c.ts', "import { open } from 'node:fs/promises';"),
    ];
    expect(misplacedBuiltins(planted)).toHaveLength(2);
  });
  it('a built-in, a Node global and a native package behind the pure library', () => {
    const behind = (text: string) =>
      nodeReachableFrom('index.ts', [
        file('index.ts', "export { a } from './stats/a.js';"),
        file('stats/a.ts', text),
      ]);
    expect(behind("import { join } from 'node:path';").join()).toContain('index.ts -> stats/a.ts');
    expect(behind('export const a = process.env.HOME;')).toHaveLength(1);
    expect(behind('export const a = Buffer.from([1]);')).toHaveLength(1);
    expect(behind("const sharp = await import('sharp');")).toHaveLength(1);
    // A type leaves no trace at run time, and a property called `process` is none of Node's.
    expect(behind("import type { Readable } from 'node:stream'; export const a = b.process;")).toEqual([]);
  });
  it('a package outside its room, and one that nobody asked for', () => {
    const planted = [
      file('stats/a.ts', "import sharp from 'sharp';"),
      file('cli/b.ts', "import x from '@unheard/of/part';"),
      file('numeric/c.ts', "import FFT from 'fft.js';"),
    ];
    expect(misplacedPackages(planted)).toHaveLength(2);
  });
  it('names that say nothing', () => {
    const planted = ['trace/utils.ts', 'helpers/a.ts', 'stats/Common.ts', 'report/trace.misc.ts'];
    expect(emptyNames([...planted, 'stats/commonUncertainty.ts'])).toEqual(planted);
  });
  it('exports without words, by every way of exporting', () => {
    const planted = file(
      'stats/a.ts',
      [
        '/** Header. */',
        "import './b.js';",
        'export const bare = 1;',
        '// not a docstring',
        'export function alsoBare() {}',
        '/** */',
        'export interface Empty {}',
        'class Listed {}',
        'export { Listed };',
        '/** Words. */',
        'export type Good = 1;',
        'const inner = 2;',
      ].join('\n'),
    );
    expect(undocumented([planted])).toEqual(
      ['bare', 'alsoBare', 'Empty', 'Listed'].map((name) => `src/stats/a.ts: ${name}`),
    );
  });
  it('a long file, and an excuse for a short one', () => {
    const long = file('stats/a.ts', '\n'.repeat(401));
    expect(tooLong([long], {})).toEqual(['src/stats/a.ts has 401 lines']);
    expect(tooLong([long], { 'stats/a.ts': 'planted' })).toEqual([]);
    expect(tooLong([file('stats/a.ts', '\n'.repeat(400))], {})).toEqual([]);
    expect(tooLong([], { 'stats/b.ts': 'planted' })).toHaveLength(1);
  });
  it('clocks and randomness', () => {
    const planted = file(
      'stats/a.ts',
      'const a = Math.random(); const b = Date.now(); const c = new Date(); const d = performance.now();',
    );
    const caught = clocksAndRandom([planted], []).map((sentence) => sentence.split(' uses ')[1]);
    expect(caught).toEqual(['Math.random', 'Date', 'Date', 'performance']);
    expect(clocksAndRandom([planted], ['stats/a.ts'])).toEqual([]);
    expect(clocksAndRandom([file('a.ts', 'const x = Math.round(1); y.performance;')], [])).toEqual([]);
  });
});
