/** Lights that are not the LED: its glow, a mirror image of the screen, a thumb that follows itself. */
import { describe, expect, it } from 'vitest';
import type { Overview } from '../../src/region/activity.js';
import { chooseRegions } from '../../src/region/findRegions.js';
import { seededStream } from '../../src/simulate/random.js';
import { randomScene } from '../../src/simulate/randomScene.js';
import { simulateSource } from '../../src/simulate/renderSource.js';

const RATE_HZ = 120;
const COLUMNS = 64;
const ROWS = 36;
const LED = { x: 8, y: 14, width: 4, height: 4 };
/** Where the light of the LED falls on the bench. */
const GLOW = { x: 17, y: 20, width: 1, height: 1 };
const UPPER = { x: 29, y: 4, width: 30, height: 10 };
const LOWER = { x: 29, y: 14, width: 30, height: 10 };
const MIRROR = { x: 34, y: 31, width: 3, height: 2 };
const THUMB = { x: 5, y: 9, width: 12, height: 14 };
/** Camera frames in which a thumb comes over its place, and in which it is there. */
const SLIDE = 8;
const STAY = 24;
/** Changes of the screen, and more of them than a thumb passes. */
const PRESSES = [60, 150, 260, 345, 450, 560, 655, 770, 860];
const PASSES = PRESSES.slice(0, 5);

const holds = (r: typeof LED, x: number, y: number) =>
  x >= r.x && x < r.x + r.width && y >= r.y && y < r.y + r.height;

interface Light {
  readonly rect: typeof LED;
  readonly codes: number;
  /** Camera frames after a press at which it comes, and for which it stays. */
  readonly after: number;
  readonly lasts: number;
}

function film(lights: readonly Light[], { thumb = false, rateHz = RATE_HZ } = {}): Overview {
  const draw = seededStream(11, 1);
  const frames = 8 * RATE_HZ;
  const luma = new Uint8Array(frames * ROWS * COLUMNS);
  for (let k = 0; k < frames; k++) {
    const lit = lights.filter((l) => PRESSES.some((p) => k >= p + l.after && k < p + l.after + l.lasts));
    for (let y = 0; y < ROWS; y++) {
      for (let x = 0; x < COLUMNS; x++) {
        let v = 60;
        for (const { rect, codes } of lit) if (holds(rect, x, y)) v += codes;
        // It comes from the left, slower and slower, and goes the same way.
        const reach = SLIDE * Math.sqrt((x - THUMB.x) / THUMB.width);
        const isOver = thumb && PASSES.some((p) => k >= p + reach && k < p + STAY + SLIDE - reach);
        if (isOver && holds(THUMB, x, y)) v = 110;
        luma[(k * ROWS + y) * COLUMNS + x] = Math.round(v + draw.between(-1, 1));
      }
    }
  }
  return { columns: COLUMNS, rows: ROWS, frames, luma, rateHz };
}

/** Four pixels a block. */
const { facts } = simulateSource(randomScene(1, { widthPx: 4 * COLUMNS, heightPx: 4 * ROWS }));
const screen = [
  { rect: UPPER, codes: 120, after: 9, lasts: 16 },
  { rect: LOWER, codes: 120, after: 10, lasts: 16 },
];

describe('of one light or thing in several places', () => {
  it('takes the LED, not what it shines on, though that seems to be nearer to the answer', () => {
    const led = { rect: LED, codes: 120, after: 0, lasts: 14 };
    const glow = { rect: GLOW, codes: 30, after: 1, lasts: 14 };
    const { regions, unsure, notes } = chooseRegions(film([...screen, led, glow]), facts);
    expect(notes).toEqual([]);
    expect(unsure).toBe(false);
    const { x, y, width, height } = regions.find((r) => r.role === 'led')!;
    expect(holds(LED, (x + width / 2) / 4, (y + height / 2) / 4)).toBe(true);
  });

  it('takes no screen that answers in the next of few frames for what the LED is the mirror image of', () => {
    const led = { rect: LED, codes: 60, after: 8, lasts: 14 };
    const answer = screen.map((half) => ({ ...half, after: 9 }));
    const { unsure, notes } = chooseRegions(film([...answer, led], { rateHz: 60 }), facts);
    expect(notes).toEqual([]);
    expect(unsure).toBe(false);
  });

  it('is not sure of the mirror image of a screen whose lower half answers later', () => {
    const mirror = { rect: MIRROR, codes: 30, after: 9, lasts: 16 };
    const { unsure, notes } = chooseRegions(film([...screen, mirror]), facts);
    expect(unsure).toBe(true);
    expect(notes.join()).toContain('perhaps its mirror image');
  });

  it('is not sure of a thumb, one part of which is followed by another', () => {
    const { unsure } = chooseRegions(film([], { thumb: true }), facts);
    expect(unsure).toBe(true);
  });
});
