/** What follows a light: when it does, though pulses of light hide it from short means. */
import { describe, expect, it } from 'vitest';
import type { Overview } from '../../src/region/activity.js';
import { findFollowers } from '../../src/region/followers.js';
import { steppedClip } from '../../src/region/steppedClip.js';
import { seededStream } from '../../src/simulate/random.js';

const RATE_HZ = 240;
const COLUMNS = 32;
const ROWS = 20;
const FRAMES = 6 * RATE_HZ;
const LAG_S = 0.07;
const ANSWER_S = 0.16;
const PRESSES = [120, 250, 400, 520, 640, 790, 900, 1010, 1180];
/** A step of the search is 1/120 s. */
const STEP_S = 1 / 120;

/** A screen lit by pulses of 50 Hz, whose middle is `codes` brighter while it answers. */
function pulsedClip(codes: number): Overview {
  const draw = seededStream(5, 1);
  const luma = new Uint8Array(FRAMES * ROWS * COLUMNS);
  for (let k = 0; k < FRAMES; k++) {
    const answers = PRESSES.some((p) => k >= p + LAG_S * RATE_HZ && k < p + (LAG_S + ANSWER_S) * RATE_HZ);
    // One frame in five holds a pulse, each fifth time one frame earlier: 5 pulses in 24 frames.
    const hasPulse = [0, 5, 10, 15, 20].includes(k % 24);
    for (let y = 0; y < ROWS; y++) {
      for (let x = 0; x < COLUMNS; x++) {
        const isMiddle = x >= 12 && x < 20 && y >= 6 && y < 14;
        const light = hasPulse ? 60 + (isMiddle && answers ? codes : 0) : 2;
        luma[(k * ROWS + y) * COLUMNS + x] = Math.max(0, light + draw.between(-8, 8));
      }
    }
  }
  return { columns: COLUMNS, rows: ROWS, frames: FRAMES, luma, rateHz: RATE_HZ };
}

describe('what follows a light on a screen that shines in pulses', () => {
  it('is told at its own time, not on the flank of the longer mean that evens the pulses out', () => {
    const overview = pulsedClip(60);
    expect(steppedClip(overview).mean).toBe(12);
    const [following] = findFollowers(overview, [PRESSES], () => false)[0]!;
    expect(following!.blocks.size).toBeGreaterThan(40);
    expect(following!.followed).toBe(PRESSES.length);
    expect(Math.abs(following!.lagS - LAG_S)).toBeLessThan(1.5 * STEP_S);
    expect(following!.spreadS).toBeLessThan(1.5 * STEP_S);
  });

  it('comes in parts, the strongest first', () => {
    const overview = pulsedClip(60);
    const luma = overview.luma.slice();
    // A corner that answers as well, and is smaller.
    for (let k = 0; k < FRAMES; k++) {
      const lit = PRESSES.some((p) => k >= p + 24 && k < p + 60);
      for (let y = 0; y < 4; y++)
        for (let x = 0; x < 4; x++) luma[(k * ROWS + y) * COLUMNS + x] = lit ? 90 : 40;
    }
    const parts = findFollowers({ ...overview, luma }, [PRESSES], () => true)[0]!;
    expect(parts.length).toBeGreaterThanOrEqual(2);
    for (const [i, part] of parts.entries())
      expect(part.weight).toBeLessThanOrEqual(parts[i - 1]?.weight ?? 1e9);
    expect(parts.some((part) => part.blocks.has(0))).toBe(true);
    expect(parts.some((part) => part.blocks.has(10 * COLUMNS + 16))).toBe(true);
  });
});
