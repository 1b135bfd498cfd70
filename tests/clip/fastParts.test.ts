import { describe, expect, it } from 'vitest';
import { resolveCaptureClock } from '../../src/clip/captureClock.js';
import { findFastParts } from '../../src/clip/fastParts.js';

/** Ticks of 1/90000 s from deltas. */
function ticksOf(deltas: readonly number[]): Float64Array {
  let at = 0;
  return Float64Array.from([0, ...deltas], (delta) => {
    at += delta;
    return at;
  });
}
const run = (delta: number, count: number) => new Array<number>(count).fill(delta);

describe('parts of another rate', () => {
  it('takes the burst out of a slow recording, with the frames at its ends', () => {
    const parts = findFastParts(ticksOf([...run(3000, 20), ...run(375, 200), ...run(3000, 20)]));
    expect([...parts!.frames]).toEqual(Array.from({ length: 201 }, (_, k) => 20 + k));
    expect(parts).toMatchObject({ breaks: [], slowFrames: 40 });
  });

  it('breaks between two bursts', () => {
    const parts = findFastParts(
      ticksOf([...run(375, 99), ...run(3000, 20), ...run(375, 99), ...run(3000, 9)]),
    );
    expect(parts).toMatchObject({ breaks: [100], slowFrames: 28 });
    expect(parts!.frames[100]).toBe(119);
  });

  it.each<[string, readonly number[]]>([
    ['one rate', run(375, 300)],
    ['single and double losses', Array.from({ length: 300 }, (_, k) => (k % 7 === 0 ? 1125 : 375))],
    ['a pause', [...run(375, 100), 9_000_000, ...run(375, 100)]],
    ['2 and 3 ticks of a coarse clock', Array.from({ length: 300 }, (_, k) => 2 + (k % 2))],
    ['1 and 2 ticks of a coarser one', Array.from({ length: 300 }, (_, k) => (k % 4 === 0 ? 2 : 1))],
    ['a shorter moment of light than counts', [...run(375, 200), ...run(3000, 6), ...run(375, 200)]],
    ['a clip of a few frames', run(3000, 10)],
  ])('sees no parts in %s', (_, deltas) => {
    expect(findFastParts(ticksOf(deltas))).toBeNull();
  });
});

describe('the clock over parts', () => {
  const facts = { timeBase: [1, 90_000], captureRateTagHz: null, editList: 'none' } as const;
  const ptsTicks = ticksOf([...run(3000, 20), ...run(375, 200), ...run(3000, 20), ...run(375, 100)]);

  it('runs over the fast frames alone, with nothing continuous between them', () => {
    const clock = resolveCaptureClock({ facts, ptsTicks, fastPartsOnly: true });
    if (!clock.known) throw new Error(clock.reason);
    expect(clock.captureRateHz).toBe(240);
    expect(clock.usedFrames).toHaveLength(302);
    expect(clock.stretchStarts).toEqual([0, 201]);
    expect(clock.droppedFrames).toBe(0);
    expect(clock.capturedAtS[201]! - clock.capturedAtS[200]!).toBeCloseTo(20 / 30, 9);
    expect(clock.warnings.join(' ')).toMatch(/302 frames form its fast parts.*39 slower frames/);
  });

  it('asks all the same where the fast part is no faster than players play', () => {
    const slow = ticksOf([...run(30_000, 20), ...run(3000, 200)]);
    const clock = resolveCaptureClock({ facts, ptsTicks: slow, fastPartsOnly: true });
    expect(clock).toMatchObject({ known: false });
    if (!clock.known) expect(clock.reason).toMatch(/30 fps.*--capture-rate/);
  });
});
