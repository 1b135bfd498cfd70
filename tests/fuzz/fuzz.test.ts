/** The fixed part of the fuzzer: the same cases each time, none of which may end in a way that is not promised. */
import { describe, expect, it } from 'vitest';
import { scratch } from '../end-to-end/program.js';
import { drawsOf } from './draws.js';
import { faultsOf } from './judge.js';
import { runFuzz } from './runFuzz.js';

/** Another set of cases than `npm run fuzz` begins with. */
const SEED = 20_261;

describe('hostile input', () => {
  it('60 changed clips and 400 changed documents end in bounded time, with a result or one clear sentence', async () => {
    const counts = await runFuzz({ seed: SEED, clips: 60, documents: 400, processEvery: 20, jobs: 1 });
    const finds = Object.values(counts).flatMap((c) => c.finds);
    expect(finds, JSON.stringify(finds, null, 1)).toEqual([]);
    expect([counts.clips.tried, counts.documents.tried, counts.process.tried]).toEqual([60, 400, 3]);
    // The cases are not all refused at the door.
    expect(counts.clips.codes['0']).toBeGreaterThan(5);
    expect(counts.documents.codes['0']).toBeGreaterThan(20);
    expect(counts.documents.codes['3']).toBeGreaterThan(20);
    for (const [first, last] of [...counts.clips.heapsMb, ...counts.documents.heapsMb])
      expect(last - first).toBeLessThan(60);
  });
});

describe('the judge', () => {
  const folder = scratch();
  const judge = (code: number | null, err: string, out = '') => faultsOf({ code, out, err }, folder);
  it.each([
    [0, '', 'a result', []],
    [3, 'lagreel: clip.mp4 is damaged; copy it again.\n', '', []],
    [1, 'lagreel: a fault of lagreel, please report it\nError: x\n    at y (z.ts:1:2)\n', '', ['crash']],
    [3, '', '', ['unclear sentence']],
    [3, 'lagreel: clip.mp4 has undefined frames\n', '', ['unclear sentence']],
    [7, 'lagreel: seven\n', '', ['wrong exit code']],
    [null, 'lagreel: killed\n', '', ['wrong exit code']],
    [3, 'lagreel: \u001b[31mclip\n', '', ['unsafe text']],
    [0, '', 'a\u202egnp', ['unsafe text']],
  ] as const)('of exit code %j and %j', (code, err, out, faults) => {
    expect(judge(code, err, out)).toEqual(faults);
  });
  it('draws the same from the same numbers, and other from others', () => {
    const draw = (...words: number[]) => Array.from({ length: 4 }, drawsOf(...words).next);
    expect(draw(1, 2)).toEqual(draw(1, 2));
    expect(draw(1, 2)).not.toEqual(draw(2, 1));
  });
});
