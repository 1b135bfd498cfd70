/** Light against the phase of a beat, where few still frames leave phases that none of them met. */
import { describe, expect, it } from 'vitest';
import { beatCurve } from '../../src/onset/beatCurve.js';

const FRAMES = 900;
const PER_FRAME = 0.4895;
const timesT = Float64Array.from({ length: FRAMES }, (_, k) => k);
const phaseOf = (k: number) => k * PER_FRAME - Math.floor(k * PER_FRAME);

/** Short runs of still frames: about half of a cycle's 16 phases hold three of them and more. */
const bright = [60, 140, 230, 310, 405, 512, 640, 777].flatMap((first) =>
  Array.from({ length: 8 }, (_, i) => first + i),
);

describe('the curve of a beat', () => {
  it('runs on through phases that no still frame met, where the light hardly moves', () => {
    const values = Float64Array.from(timesT, (k) => 0.5 * (1 + 0.03 * Math.cos(2 * Math.PI * phaseOf(k))));
    const { gain, depth } = beatCurve(values, timesT, PER_FRAME, { bright, dim: [] });
    expect(Math.min(...gain)).toBeGreaterThan(0.9);
    expect(depth).toBeLessThan(0.05);
  });

  it('stays dark there, where the light goes out in a part of the beat', () => {
    const lit = (k: number) => (phaseOf(k) < 0.4 ? 0.5 : 0);
    const values = Float64Array.from(timesT, lit);
    const { gain } = beatCurve(values, timesT, PER_FRAME, { bright, dim: [] });
    const dark = [...timesT].filter((k) => phaseOf(k) > 0.5 && phaseOf(k) < 0.9);
    expect(Math.max(...dark.map((k) => gain[k]!))).toBeLessThan(0.1);
  });
});
