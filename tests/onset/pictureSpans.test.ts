import { describe, expect, it } from 'vitest';
import { stateSpans } from '../../src/onset/pictureSpans.js';
import type { Crossing } from '../../src/onset/windows.js';

const at = (frame: number, sign: 1 | -1): Crossing => ({ frame, sign });

describe('frames of still pictures', () => {
  const usual = [at(100, 1), at(140, -1), at(200, 1), at(240, -1), at(300, 1), at(340, -1)];

  it('lie between each change and the next', () => {
    expect(stateSpans(usual, 400, 4, 1)).toEqual([
      [105, 136],
      [205, 236],
      [305, 336],
    ]);
  });

  it('between two changes that go the same way no picture is certain: one of them is none, or one is missing between', () => {
    const stepped = [...usual.slice(0, 3), at(215, 1), ...usual.slice(3)];
    expect(stateSpans(stepped, 400, 4, 1)).toEqual([
      [105, 136],
      [220, 236],
      [305, 336],
    ]);
  });

  it('unless hardly anything else is there', () => {
    const lost = [at(100, 1), at(200, 1), at(300, 1)];
    expect(stateSpans(lost, 400, 4, 1).length).toBe(3);
  });
});
