/**
 * Pulses sampled by a camera come back after the least common multiple of both periods (arithmetic): a mean over so many
 * frames sees each pulse alike, whatever the pulses look like.
 */
import { describe, expect, it } from 'vitest';
import type { Overview } from '../../src/region/activity.js';
import { evenSteps, stepSizes } from '../../src/region/evenSteps.js';
import { seededStream } from '../../src/simulate/random.js';

const RATE_HZ = 240;
const STEP_FRAMES = 2;
const COLUMNS = 40;
const ROWS = 20;
const FRAMES = 1200;

/** A screen on the right half that flashes for 0.15 of each refresh, half of each frame exposed. */
function film(refreshHz: number, noiseCodes = 1): Overview {
  const draw = seededStream(11, 3);
  const luma = new Uint8Array(COLUMNS * ROWS * FRAMES);
  for (let k = 0; k < FRAMES; k++) {
    let lit = 0;
    for (let i = 0; i < 50; i++) {
      const phase = ((k + (0.5 * (i + 0.5)) / 50) * refreshHz) / RATE_HZ + 0.1;
      if (refreshHz > 0 && phase % 1 < 0.15) lit += 1 / 50;
    }
    for (let b = 0; b < COLUMNS * ROWS; b++) {
      const code = b % COLUMNS < 20 ? 60 : 60 + 180 * lit;
      luma[k * COLUMNS * ROWS + b] = Math.round(code + draw.between(-noiseCodes, noiseCodes));
    }
  }
  return { columns: COLUMNS, rows: ROWS, frames: FRAMES, luma, rateHz: RATE_HZ };
}

const greatestDivisor = (a: number, b: number): number => (b === 0 ? a : greatestDivisor(b, a % b));

describe('a mean that evens out pulses', () => {
  it.each([50, 75, 144])('%d Hz at 240 fps: over whole rounds of their beat', (refreshHz) => {
    const roundFrames = RATE_HZ / greatestDivisor(RATE_HZ, refreshHz);
    const mean = evenSteps(film(refreshHz), STEP_FRAMES);
    expect(mean).not.toBe('usual');
    expect((Number(mean) * STEP_FRAMES) % roundFrames).toBe(0);
  });

  it.each([60, 120, 165])('%d Hz at 240 fps: the usual mean leaves no beat to speak of', (refreshHz) => {
    expect(evenSteps(film(refreshHz), STEP_FRAMES)).toBe('usual');
  });

  it.each([1, 12])('nothing but noise of %d codes: as usual', (noiseCodes) => {
    expect(evenSteps(film(0, noiseCodes), STEP_FRAMES)).toBe('usual');
  });

  it.each(['usual', 5, 12] as const)('mean %s: a step has its full size where it comes', (mean) => {
    const means = Float32Array.from({ length: 60 }, (_, s) => (s < 30 ? 10 : 34));
    const sizes = new Float32Array(60);
    stepSizes(means, mean, sizes);
    expect(sizes[30]).toBeCloseTo(24, 4);
    expect(sizes.indexOf(Math.max(...sizes))).toBe(30);
    expect(sizes[29]).toBeLessThan(24);
    expect(sizes[31]).toBeLessThan(24);
    expect(sizes[16]).toBe(0);
  });
});
