/** A small fixed part of `npm run matrix` for CI; figures are printed. The full matrix has the floors of the issue. */
import { describe, expect, it } from 'vitest';
import { drawClip } from './drawClip.js';
import { type Judgement, judgeClip } from './judgeClip.js';
import { describeTotals, totalsOf } from './matrixTable.js';

const FIRST_SEED = 30_000;
const CLIPS = 16;

describe('matrix of displays, contents, LEDs, hands, rooms and cameras', () => {
  it('reports no wrong number as sound more often than the floors of this part allow', async () => {
    const judged: Judgement[] = [];
    for (let seed = FIRST_SEED; seed < FIRST_SEED + CLIPS; seed++)
      judged.push(await judgeClip(drawClip(seed)));
    console.log(describeTotals(judged));
    const drawn = totalsOf(judged.map((j) => j.drawn));
    expect(drawn.expected).toBeGreaterThan(60);
    expect(drawn.foundFit).toBeGreaterThanOrEqual(0.99 * drawn.expectedFit);
    expect(drawn.inventedFit).toBe(0);
    // One latency in a hundred here; the full matrix asks for one in two hundred over thirty times as many.
    expect(drawn.wrongUnflagged).toBeLessThanOrEqual(Math.max(1, 0.01 * drawn.reported));
    // One clip of sixteen may go wrong in silence without refuting one in a hundred.
    expect(judged.filter((j) => j.finding === 'silently wrong').length).toBeLessThanOrEqual(1);
    expect(judged.filter((j) => j.finding.startsWith('right')).length).toBeGreaterThanOrEqual(0.75 * CLIPS);
  });
});
