import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { run } from '../../src/cli/main.js';
import { stageOption } from '../../src/cli/options.js';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import type { Comparison } from '../../src/record/comparison.js';
import { comparisonSchema } from '../../src/record/comparisonSchema.js';
import { toJsonText } from '../../src/record/files.js';
import { drawLatencies, madeRecord } from '../compare/madeRecord.js';

const folder = mkdtempSync(join(tmpdir(), 'lagreel-compare-test-'));
const bench = join(folder, 'bench');
afterAll(() => rmSync(folder, { recursive: true, force: true }));

async function lagreel(...argv: string[]) {
  const said = { out: '', err: '' };
  const code = await run(argv, {
    out: (text) => {
      said.out += text;
    },
    err: (text) => {
      said.err += text;
    },
    colour: false,
    width: 100,
    live: false,
  });
  return { code, ...said };
}

beforeAll(() => {
  mkdirSync(bench);
  const latencies = drawLatencies(seededRandom(2), 30, { delayMs: 40 });
  const write = (name: string, chain: string, byMs: number): void => {
    const { record } = madeRecord(`${name}.mp4`, {
      labels: { chain },
      regions: [{ latenciesMs: latencies.map((l) => l + byMs) }],
    });
    writeFileSync(join(bench, `${name}.record.json`), toJsonText(record));
  };
  write('direct', 'Direct', 0);
  write('birch', 'Birch', 4);
});

describe('lagreel compare', () => {
  it('says sentences first, then tables, and what they rest on', async () => {
    const { code, out, err } = await lagreel('compare', bench, '--baseline', 'chain=Direct');
    expect({ code, err }).toEqual({ code: 0, err: '' });
    expect(out).toMatch(/^Against Direct\n {2}Birch adds 4\.0 ms \(0\.24 display frames\), fixed\.\n/);
    expect(out).toContain('Groups');
    expect(out).toContain('No zero check');
    for (const line of out.split('\n')) expect(line.length).toBeLessThanOrEqual(100);
  });

  it('--json prints one document and nothing else; --out writes the same', async () => {
    const out = join(folder, 'out');
    const said = await lagreel(
      ...['compare', join(bench, 'direct.record.json'), join(bench, 'birch.record.json')],
      ...['--baseline', 'chain=Direct', '--stage', 'living-room panel=16.7±2', '--json', '--out', out],
    );
    expect({ code: said.code, err: said.err }).toEqual({ code: 0, err: '' });
    const document = comparisonSchema.parse(JSON.parse(said.out)) as unknown as Comparison;
    expect(readFileSync(join(out, 'comparison.json'), 'utf8')).toBe(said.out);
    expect(document.budget!.stages).toEqual([{ name: 'living-room panel', valueMs: 16.7, halfWidthMs: 2 }]);
    // From where the comparison stands to the records.
    expect(document.clips.map((c) => [c.record, c.report])).toEqual([
      ['../bench/direct.record.json', '../bench/direct.report.html'],
      ['../bench/birch.record.json', '../bench/birch.report.html'],
    ]);
  });

  it('reads labels from session.csv beside the records, from another table, or not at all', async () => {
    const table = join(bench, 'session.csv');
    writeFileSync(table, 'file,chain\nbirch.mp4,Larch\n');
    const groups = async (...more: string[]): Promise<string[]> => {
      const { out } = await lagreel('compare', bench, '--json', ...more);
      return (JSON.parse(out) as Comparison).groups.map((g) => g.name);
    };
    expect(await groups()).toEqual(['Larch', 'Direct']);
    expect(await groups('--no-session')).toEqual(['Birch', 'Direct']);
    writeFileSync(join(folder, 'other.csv'), 'file,chain\ndirect.mp4,Elder\n');
    expect(await groups('--session', join(folder, 'other.csv'))).toEqual(['Birch', 'Elder']);
    rmSync(table);
  });

  it.each([
    [[join(folder, 'none.record.json')], 3, 'there is no record'],
    [[folder], 3, 'there is no record in the folder'],
    [[join(folder, 'clip.mp4')], 2, 'is neither a folder nor a record'],
    [
      [bench, '--baseline', 'chain=Oak'],
      2,
      'no clip belongs to the baseline chain=Oak: there are Birch; Direct',
    ],
    [[bench, '--by', 'colour'], 2, 'no clip has a label "colour"'],
    [[bench, '--by', 'chain,,mode'], 2, 'label keys are given as'],
    [[bench, '--stage', 'panel'], 2, 'a stage is NAME=MS'],
    [[bench, '--allow', 'all'], 2, 'Allowed choices are level, edge, light, height, refresh'],
    [[bench, '--session', join(folder, 'no.csv')], 3, 'there is no session table'],
  ])('%j: exit code %i and one sentence', async (args, expected, message) => {
    const { code, out, err } = await lagreel('compare', ...args);
    expect({ code, out }).toEqual({ code: expected, out: '' });
    expect(err).toContain(message);
    expect(err.trim().split('\n')).toHaveLength(1);
  });
});

describe('--stage', () => {
  it.each([
    ['living-room panel=16.7±2', 'living-room panel', 16.7, 2],
    ['panel=16.7+-2', 'panel', 16.7, 2],
    ['panel = 16.7 +/- 2 ms', 'panel', 16.7, 2],
    ['link=4', 'link', 4, 0],
    ['bench panel=-9.5+-0.5', 'bench panel', -9.5, 0.5],
    ['a=b=3', 'a=b', 3, 0],
  ])('%s', (text, name, valueMs, halfWidthMs) => {
    expect(stageOption(text)).toEqual([{ name, valueMs, halfWidthMs }]);
  });
  it.each(['panel', '=3', 'panel=x', 'panel=3+-', 'panel=3+-x', 'panel=3 s'])('refuses %s', (text) => {
    expect(() => stageOption(text)).toThrow('a stage is');
  });
});
