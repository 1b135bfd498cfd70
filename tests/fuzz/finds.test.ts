/** What the fuzzer once found, each as a test of its own. */
import { mkdirSync, mkdtempSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import { scratch } from '../end-to-end/program.js';
import { recordOf } from '../report/fixtures.js';
import { type Bases, basesIn } from './bases.js';
import { clipCase } from './cases.js';
import { faultsOf, runHere } from './judge.js';

/** Seed and number of the changed clips; with another FFmpeg than ours they are just other cases. */
const CLIPS = [
  [1, 200, 'light without any change has no beat'],
  [1, 449, 'a rate that is no number'],
  [1, 791, 'a rate that is no number, in Matroska'],
] as const;

let bases: Bases;
beforeAll(async () => {
  bases = await basesIn(join(scratch(), 'bases'));
});

describe('changed clips', () => {
  it.each(CLIPS)('seed %d, number %d: %s', async (seed, i) => {
    const folder = scratch();
    const { argv } = clipCase(bases, seed, i, folder);
    const ended = await runHere(argv);
    expect(faultsOf(ended, folder), ended.err).toEqual([]);
  });
});

describe('recipes of wild numbers', () => {
  it.each([6e-5, 1e5])(
    'a refresh rate of %d Hz is refused in one sentence, not waited for',
    async (refreshHz) => {
      const folder = scratch();
      const recipe = { ...JSON.parse(bases.recipe), display: { refreshHz } };
      recipe.clip.sha256 = '';
      writeFileSync(join(folder, 'x.recipe.json'), JSON.stringify(recipe));
      const ended = await runHere([
        'inspect',
        bases.clips[0]!.path,
        '--recipe',
        join(folder, 'x.recipe.json'),
      ]);
      expect(faultsOf(ended, folder), ended.err).toEqual([]);
      expect(ended.code).toBe(3);
      expect(ended.err).toMatch(/x\.recipe\.json is not a valid recipe: display\.refreshHz: Too (small|big)/);
    },
  );
});

describe('records of wild numbers', () => {
  const compare = async (change: (response: Record<string, unknown>) => void, common = 0.3) => {
    const folder = mkdtempSync(join(scratch(), 'records-'));
    mkdirSync(folder, { recursive: true });
    for (const chain of ['Alder', 'Birch']) {
      const record = structuredClone(recordOf({ presses: 12, delaysMs: { top: 50 } }));
      const { labels } = record.recipe;
      (labels as Record<string, string>).chain = chain;
      if (chain === 'Alder') {
        for (const press of record.presses) for (const response of press.responses) change(response as never);
        for (const press of record.presses)
          for (const response of press.responses)
            for (const part of response.budget ?? [])
              if (part.common) (part as { standardUncertaintyMs: number }).standardUncertaintyMs = common;
      }
      writeFileSync(join(folder, `${chain}.record.json`), JSON.stringify(record));
    }
    const startMs = performance.now();
    const ended = await runHere(['compare', folder, '--by', 'chain', '--baseline', 'chain=Birch', '--json']);
    return { ended, faults: faultsOf(ended, folder), ms: performance.now() - startMs };
  };
  it.each([
    ['a latency of 1e300 ms', 1e300, 0.1],
    ['a latency of 9e15 ms', 9e15, 0.1],
    ['an uncertainty of 1e300 ms', 50, 1e300],
  ])('%s: refused in one sentence', async (_, latencyMs, uncertaintyMs) => {
    const { ended, faults } = await compare((r) => Object.assign(r, { latencyMs, uncertaintyMs }));
    expect(faults, ended.err).toEqual([]);
    expect(ended.code).toBe(3);
    expect(ended.err).toMatch(
      /Alder\.record\.json is not a valid record: presses\.0\.responses\.0\.\w+: Too big/,
    );
  });
  it.each([
    [
      'latencies from -1e6 to 1e6 ms',
      (r: Record<string, unknown>) => Object.assign(r, { latencyMs: Math.sign(Number(r.onsetS) - 1) * 1e6 }),
      0.3,
    ],
    [
      'uncertainties of 1e6 and of 0 ms',
      (r: Record<string, unknown>) => Object.assign(r, { uncertaintyMs: Number(r.onsetS) > 1 ? 1e6 : 0 }),
      0.3,
    ],
    ['a common uncertainty of 1e6 ms', () => undefined, 1e6],
  ] as const)('%s: an answer in bounded time', async (_, change, common) => {
    const { ended, faults, ms } = await compare(change as never, common);
    expect(faults, ended.err).toEqual([]);
    expect(ms).toBeLessThan(30_000);
  });
  it('a key that is missing is said to be missing', async () => {
    const { ended } = await compare((r) => {
      delete r.region;
    });
    expect(ended.err).toBe(
      'lagreel: Alder.record.json is not a valid record: presses.0.responses.0.region is missing (expected: string); measure the clip again\n',
    );
  });
});
