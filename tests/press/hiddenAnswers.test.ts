import { describe, expect, it } from 'vitest';
import type { Onset } from '../../src/onset/onset.js';
import { hiddenAnswers } from '../../src/press/hiddenAnswers.js';

const presses = [0, 1, 2, 3].map((levelS) => ({ levelS }) as unknown as Onset);
/** An answer to each press: lag (ms) and direction. */
const answers = (...of: readonly (readonly [number, 1 | -1])[]) =>
  of.map(([lagMs, sign], i) => ({ levelS: i + lagMs / 1000, sign, kind: 0 }) as unknown as Onset);

describe('answers with hidden flashes between the press and them', () => {
  const all = answers([60, -1], [190, 1], [62, -1], [65, -1]);
  const hidden = (...unseenS: readonly (readonly [number, number])[]) =>
    hiddenAnswers(all, presses, { unseenS });

  it('are told where they go another way than all answers that had nothing hidden', () => {
    expect(hidden([1.03, 1.12])).toEqual([false, true, false, false]);
  });

  it('are sound where others go the same way, as on a screen that is switched to and fro', () => {
    expect(hidden([3.02, 3.05])).not.toContain(true);
  });

  it('are told where they come far later than all those that had nothing hidden', () => {
    const late = answers([60, 1], [70, 1], [66, 1], [180, 1]);
    expect(hiddenAnswers(late, presses, { unseenS: [[3.02, 3.15]] })).toEqual([false, false, false, true]);
    // As late with nothing hidden: a device that is slow now and then.
    expect(hiddenAnswers(late, presses, { unseenS: [[2.8, 2.9]] })).not.toContain(true);
    // Two of them do not say what is usual.
    expect(
      hiddenAnswers(late, presses, {
        unseenS: [
          [0.02, 0.03],
          [3.02, 3.15],
        ],
      }),
    ).not.toContain(true);
  });

  it('are sound where nothing was hidden between press and answer, or before all answers', () => {
    expect(hidden([1.3, 1.6])).not.toContain(true);
    expect(hidden([-1, 5])).not.toContain(true);
    expect(hiddenAnswers([null, ...all.slice(1)], presses, { unseenS: [[0, 0.5]] })).not.toContain(true);
  });
});
