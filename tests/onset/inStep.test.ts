import { describe, expect, it } from 'vitest';
import { judgeInStep, pulseDelay, type SeenEdge } from '../../src/onset/inStep.js';

const edges = (partlyLit: number, count = 20): SeenEdge[] =>
  Array.from({ length: count }, () => ({ partlyLit, firstLitS: 0 }));

describe('steady light that may come in pulses in step with the frames', () => {
  it('is hardly thought of where changes show partly lit frames and no refresh is stated', () => {
    expect(judgeInStep(edges(0.4), 0.9, false)).toBeNull();
    // As an instant change does that falls anywhere: every second one, with the shutter open for 0.6 of the time.
    const mixed = [...edges(0.02, 10), ...edges(0.3, 10)];
    expect(judgeInStep(mixed, 0.6, false)).toBeNull();
  });

  it('is likely where no change ever shows one, though the shutter is hardly ever closed', () => {
    expect(judgeInStep(edges(0.02), 0.95, false)!.chance).toBeGreaterThan(0.7);
    // With a short exposure changes that are seen whole are what is expected.
    expect(judgeInStep(edges(0.02), 0.1, false)).toBeNull();
    // A few changes tell nothing.
    expect(judgeInStep(edges(0.02, 2), 0.7, false)).toBeNull();
  });

  it('is always said where the stated refresh says that pulses would look steady', () => {
    expect(judgeInStep(edges(0.02), 0.95, true)!.chance).toBeGreaterThan(0.7);
    const partly = judgeInStep(edges(0.3), 0.95, true)!;
    expect(partly.isStated).toBe(true);
    expect(partly.chance).toBeGreaterThan(0.2);
    expect(partly.chance).toBeLessThan(0.5);
  });

  it('comes anywhere in the exposure of the first frame that it lights, as a rectangular distribution', () => {
    // JCGM 100:2008, 4.3.7: standard uncertainty a / sqrt(3) for a half width of a.
    const surely = pulseDelay({ chance: 1, isStated: true }, 0.001, 0.004);
    expect(surely.lateS).toBeCloseTo(0.003, 12);
    expect(surely.sdS).toBeCloseTo(0.002 / Math.sqrt(3), 12);
    // Two possibilities: their mean, and the spread of both about it (law of total variance).
    const half = pulseDelay({ chance: 0.5, isStated: true }, 0.001, 0.004);
    expect(half.lateS).toBeCloseTo(0.0015, 12);
    expect(half.sdS ** 2).toBeCloseTo(0.5 * (0.002 ** 2 / 3) + 0.25 * 0.003 ** 2, 12);
  });
});
