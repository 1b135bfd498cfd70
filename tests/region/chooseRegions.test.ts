import { describe, expect, it } from 'vitest';
import type { Overview } from '../../src/region/activity.js';
import { chooseRegions } from '../../src/region/findRegions.js';
import { seededStream } from '../../src/simulate/random.js';
import { randomScene } from '../../src/simulate/randomScene.js';
import { simulateSource } from '../../src/simulate/renderSource.js';

const RATE_HZ = 120;
const COLUMNS = 64;
const ROWS = 36;
const LED = { x: 8, y: 16, width: 2, height: 2 };
const SCREEN = { x: 29, y: 7, width: 30, height: 21 };

const holds = (r: typeof LED, x: number, y: number) =>
  x >= r.x && x < r.x + r.width && y >= r.y && y < r.y + r.height;

/**
 * A shrunken clip: a LED that is lit for 0.12 s at each press and a screen that answers 62 ms later, before a test card
 * whose lines and dots go round all the time.
 */
function shrunkenClip(presses: number, seconds: number): Overview {
  const draw = seededStream(7, 1);
  const frames = Math.round(seconds * RATE_HZ);
  const pressesS = Array.from({ length: presses }, (_, i) => 0.4 + 0.8 * i + 0.3 * ((i * 0.618034) % 1));
  const luma = new Uint8Array(frames * ROWS * COLUMNS);
  const on = (t: number, fromS: number, toS: number) => pressesS.some((p) => t >= p + fromS && t < p + toS);
  for (let k = 0; k < frames; k++) {
    const t = k / RATE_HZ;
    const lit = on(t, 0, 0.12);
    const answers = on(t, 0.062, 0.192);
    for (let y = 0; y < ROWS; y++) {
      for (let x = 0; x < COLUMNS; x++) {
        // Bars, over which two families of lines pass, a few each second, at a pace that changes.
        let v = 40 + 30 * Math.floor((5 * x) / COLUMNS);
        if ((x + 2 * y + Math.round(37 * t + 5 * Math.sin(4.1 * t))) % 31 < 2) v += 60;
        if ((3 * x - y + 400 - Math.round(23 * t + 7 * Math.sin(2.3 * t))) % 47 < 2) v -= 35;
        if (holds(SCREEN, x, y)) v = answers ? 190 : 30;
        if (holds(LED, x, y)) v = lit ? 180 : 20;
        luma[(k * ROWS + y) * COLUMNS + x] = Math.max(0, Math.min(255, v + draw.between(-2, 2)));
      }
    }
  }
  return { columns: COLUMNS, rows: ROWS, frames, luma, rateHz: RATE_HZ };
}

/** Thumb over the LED, beginning so long after a press, s; around it more than the screen changes. */
const THUMB = { x: 2, y: 10, width: 15, height: 14 };
const THUMBS_S = [
  [0.13, 0.3],
  [0.14, 0.28],
  [0.22, 0.4],
] as const;
/** A line of the screen's mirror image in the bench, which brightens before what the display draws last. */
const MIRROR = { x: 29, y: 32, width: 3, height: 2 };
const BELOW = { x: 40, y: 30, width: 20, height: 5 };

/** Edge of a thumb that moves with each press. */
const EDGE = { x: 10, y: 15, width: 1, height: 4 };

/** A dim grey room: a faint screen that answers, and what else there is. */
function plainClip({ codes = 4, thumb = false, mirror = 0, edge = 0 }): Overview {
  const draw = seededStream(11, 1);
  const pressesS = Array.from({ length: 9 }, (_, i) => 0.4 + 0.8 * i + 0.3 * ((i * 0.618034) % 1));
  const frames = 8 * RATE_HZ;
  const luma = new Uint8Array(frames * ROWS * COLUMNS);
  for (let k = 0; k < frames; k++) {
    const t = k / RATE_HZ;
    const on = (fromS: number, toS: number) => pressesS.some((p) => t >= p + fromS && t < p + toS);
    const covered =
      thumb && THUMBS_S.some(([a, b], i) => t >= pressesS[3 * i + 1]! + a && t < pressesS[3 * i + 1]! + b);
    for (let y = 0; y < ROWS; y++) {
      for (let x = 0; x < COLUMNS; x++) {
        let v = 60;
        if (holds(SCREEN, x, y)) v += on(0.062, 0.192) ? codes : 0;
        if (holds(MIRROR, x, y)) v += on(0.07, 0.2) ? mirror : 0;
        if (holds(BELOW, x, y)) v += on(0.1, 0.23) ? mirror : 0;
        if (holds(LED, x, y)) v = on(0, 0.12) ? 180 : 20;
        if (holds(EDGE, x, y)) v += on(0.062, 0.192) ? edge : 0;
        if (covered && holds(THUMB, x, y)) v = 110;
        luma[(k * ROWS + y) * COLUMNS + x] = v + draw.between(-1, 1);
      }
    }
  }
  return { columns: COLUMNS, rows: ROWS, frames, luma, rateHz: RATE_HZ };
}

/** Four pixels a block. */
const { facts } = simulateSource(randomScene(1, { widthPx: 4 * COLUMNS, heightPx: 4 * ROWS }));

describe('one look at a clip before something that moves all the time', () => {
  it('is sure of the one light that leads, from nine presses', () => {
    const { regions, unsure, confidence, notes } = chooseRegions(shrunkenClip(9, 8), facts);
    expect(notes).toEqual([]);
    expect(unsure).toBe(false);
    expect(confidence).toBeGreaterThan(0.8);
    const led = regions.find((r) => r.role === 'led')!;
    expect(led.x / 4).toBeGreaterThan(LED.x - 3);
    expect((led.x + led.width) / 4).toBeLessThan(LED.x + LED.width + 3);
    for (const { x, y, width, height } of regions.filter((r) => r.role === 'screen')) {
      expect(holds(SCREEN, x / 4, y / 4)).toBe(true);
      expect(holds(SCREEN, (x + width) / 4 - 1, (y + height) / 4 - 1)).toBe(true);
    }
  });

  it('takes the faint screen that always answers, not the thumb that passes after three presses', () => {
    const { regions, unsure, notes } = chooseRegions(plainClip({ thumb: true }), facts);
    expect(notes).toEqual([]);
    expect(unsure).toBe(false);
    for (const { x, y, width, height } of regions.filter((r) => r.role === 'screen')) {
      expect(holds(SCREEN, (x + width / 2) / 4, (y + height / 2) / 4)).toBe(true);
    }
  });

  it('takes no mirror image of the screen for a second light', () => {
    const { unsure, notes } = chooseRegions(plainClip({ codes: 60, mirror: 40 }), facts);
    expect(notes).toEqual([]);
    expect(unsure).toBe(false);
  });

  it('is not sure of a thumb’s edge beside the light, however steadily it follows', () => {
    const { unsure, notes } = chooseRegions(plainClip({ codes: 0, edge: 60 }), facts);
    expect(unsure).toBe(true);
    expect(notes.join()).toContain('right beside the presumed LED');
  });

  it.each([2, 3])('is not sure of %d flashes, however well they are followed', (presses) => {
    const { unsure, notes } = chooseRegions(shrunkenClip(presses, 4), facts);
    expect(unsure).toBe(true);
    expect(notes.length).toBeGreaterThan(0);
  });

  it('takes none of the lines that go round for a LED without doubt, where no light leads', () => {
    const { regions, unsure } = chooseRegions(shrunkenClip(0, 8), facts);
    expect(regions.length === 0 || unsure).toBe(true);
  });
});
