/** The plan of an annotated film: frames, counters and phases by the record's own times. */
import { describe, expect, it } from 'vitest';
import type { ClipRecord } from '../../../src/record/record.js';
import { counterText } from '../../../src/report/annotated/counterText.js';
import { paceFilm } from '../../../src/report/annotated/safeSpeed.js';
import { FREEZE_S, makeFilm, pressScenes } from '../../../src/report/annotated/timeline.js';
import { normalRecord } from '../fixtures.js';

const PERIOD_S = 1 / 240;
const record = normalRecord();
const region = Object.keys(record.summary)[0]!;
const clockOf = (frames: number, lost: readonly number[] = []) => {
  const kept = Array.from({ length: frames }, (_, k) => k).filter((k) => !lost.includes(k));
  return {
    capturedAtS: Float64Array.from(kept, (k) => k * PERIOD_S),
    missingBefore: Uint16Array.from(kept, (k, i) => (i === 0 ? 0 : k - kept[i - 1]! - 1)),
    periodS: PERIOD_S,
    middleS: 0.0031,
  };
};
const frames = Math.ceil((record.presses.at(-1)!.ledOnsetS + 2) / PERIOD_S);
const measured = record.presses.filter((p) =>
  p.responses.some((r) => r.region === region && r.status === 'measured'),
);

describe('pressScenes', () => {
  const clock = clockOf(frames);
  it('each counter is the middle of exposure from the press, and the answer the first frame not before the response', () => {
    for (const press of measured) {
      const [scene] = pressScenes(record, region, [press.index], clock);
      const response = press.responses.find((r) => r.region === region)!;
      for (const shown of scene!.frames) {
        const middleS = shown.frame / 240 + 0.0031;
        expect(shown.counterMs).toBeCloseTo((middleS - press.ledOnsetS) * 1000, 9);
        const expected =
          middleS < press.ledOnsetS
            ? 'before'
            : middleS < response.onsetS!
              ? 'waiting'
              : middleS - PERIOD_S < response.onsetS!
                ? 'answer'
                : 'after';
        expect(shown.phase).toBe(expected);
      }
      const answers = scene!.frames.filter((f) => f.phase === 'answer');
      expect(answers).toHaveLength(1);
      // The latency lies between the counters of the frozen frame and of the one before.
      expect(answers[0]!.counterMs).toBeGreaterThanOrEqual(response.latencyMs! - 1e-6);
      expect(answers[0]!.counterMs - 1000 * PERIOD_S).toBeLessThan(response.latencyMs!);
    }
  });
  it('the counter follows the recipe where the LED has a delay of its own', () => {
    const delayed: ClipRecord = {
      ...record,
      recipe: { ...record.recipe, cue: { ...record.recipe.cue, delayMs: 2.5 } },
    };
    const [plain] = pressScenes(record, region, [1], clock);
    const [moved] = pressScenes(delayed, region, [1], clock);
    expect(moved!.frames[5]!.counterMs - plain!.frames[5]!.counterMs).toBeCloseTo(2.5, 9);
  });
  it('all presses: frames in order, none in two scenes', () => {
    const scenes = pressScenes(
      record,
      region,
      record.presses.map((p) => p.index),
      clock,
    );
    const shown = scenes.flatMap((s) => s.frames.map((f) => f.frame));
    expect(shown).toEqual([...new Set(shown)].sort((a, b) => a - b));
    expect(scenes).toHaveLength(record.presses.length);
  });
  it('a press that the record does not have is refused', () => {
    expect(() => pressScenes(record, region, [999], clock)).toThrow(/no press 999/);
  });
  it('a lost camera frame is sat through, not jumped over', () => {
    const press = measured[0]!;
    const lostFrame = Math.round((press.ledOnsetS + 0.02) / PERIOD_S);
    const scenes = pressScenes(record, region, [press.index], clockOf(frames, [lostFrame, lostFrame + 1]));
    const film = makeFilm(scenes, PERIOD_S, 8);
    const before = film.steps.find((s) => s.shown.frame === lostFrame - 1)!;
    expect(before.shown.periods).toBe(3);
    expect(before.repeats).toBe(3);
    expect(film.rateHz).toBeCloseTo(30, 9);
  });
});

describe('makeFilm', () => {
  const scenes = pressScenes(record, region, [measured[0]!.index], clockOf(frames));
  it.each([1, 4, 8, 13.3, 21, 64])('%d times slower: each frame for just so long, whole pictures', (slow) => {
    const film = makeFilm(scenes, PERIOD_S, slow);
    expect(film.rateHz).toBeGreaterThanOrEqual(24 - 1e-9);
    const plain = film.steps.filter((s, i) => s.shown.phase !== 'answer' && i < film.steps.length - 1);
    for (const step of plain) expect(step.repeats / film.rateHz).toBeCloseTo(slow * PERIOD_S, 9);
    const frozen = film.steps.find((s) => s.shown.phase === 'answer')!;
    expect(frozen.repeats / film.rateHz).toBeGreaterThan(FREEZE_S);
    expect(film.pictures).toBe(film.steps.reduce((n, s) => n + s.repeats, 0));
  });
  it('a light that flashes each display frame slows the film down, or gets a caution', () => {
    // 60 Hz pulses at 240 camera frames: one bright frame in four.
    const gridOf = (k: number) => new Uint8Array(3).fill(k % 4 === 0 ? 230 : 20);
    const paced = paceFilm(scenes, PERIOD_S, 8, gridOf, false);
    expect(paced.asked.flashes.flashesPerS).toBeGreaterThan(3);
    expect(paced.safe).toBe(true);
    expect(paced.flashes.flashesPerS).toBeLessThanOrEqual(3);
    // 120 swings a second of life: six in a closed second need more than 20 times slower.
    expect(paced.film.slow).toBeGreaterThan(20);
    expect(paced.film.slow).toBeLessThanOrEqual(24);
    const kept = paceFilm(scenes, PERIOD_S, 8, gridOf, true);
    expect(kept).toMatchObject({ safe: false, film: { slow: 8 } });
    const steady = paceFilm(scenes, PERIOD_S, 8, () => new Uint8Array(3).fill(90), false);
    expect(steady).toMatchObject({ safe: true, film: { slow: 8 }, flashes: { flashesPerS: 0 } });
  });
});

describe('counterText', () => {
  it.each([
    [0, '    0.0'],
    [-0.04, '    0.0'],
    [-60.24, '  -60.2'],
    [68.449, '   68.4'],
    [1234.56, ' 1234.6'],
  ])('%d', (ms, text) => expect(counterText(ms)).toBe(text));
});
