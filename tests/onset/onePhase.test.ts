import { describe, expect, it } from 'vitest';
import { meetsOnePhase } from '../../src/onset/onePhase.js';

describe('refreshes against frames', () => {
  it.each([
    [240, 60, true],
    [120, 120, true],
    [120, 240, true],
    // In eight seconds 0.06 Hz moves the refreshes by two camera frames.
    [240, 59.94, false],
    [240, 75, false],
    [240, 144, false],
  ])('%d frames a second, %d Hz: one phase %s', (fps, hz, one) => {
    expect(meetsOnePhase(fps / hz, 8 * fps)).toBe(one);
  });
});
