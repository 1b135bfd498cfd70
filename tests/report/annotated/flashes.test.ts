/** Flash counting against WCAG 2.2's definition, on lights whose flashes are known by construction. */
import { describe, expect, it } from 'vitest';
import { countFlashes } from '../../../src/report/annotated/flashes.js';

/** sRGB byte of a relative luminance. */
const byteOf = (luminance: number): number =>
  Math.round(255 * (luminance <= 0.0031308 ? 12.92 * luminance : 1.055 * luminance ** (1 / 2.4) - 0.055));
const grey = (luminance: number) => new Uint8Array(3).fill(byteOf(luminance));
const blink = (hz: number, low: number, high: number, seconds: number, rateHz = 60) => {
  const startS = Array.from({ length: seconds * rateHz }, (_, i) => i / rateHz);
  return countFlashes(
    startS.map((t) => grey(Math.floor(2 * hz * t + 1e-9) % 2 === 0 ? low : high)),
    startS,
  );
};

describe('countFlashes', () => {
  it.each([
    [1, 1.5],
    [2, 2.5],
    [3, 3.5],
    [5, 5.5],
  ])('%d Hz between dark and light: %d pairs fit into one second, ends included', (hz, flashes) => {
    // Swings every 1 / (2 hz) s: 2 hz + 1 of them in a closed second.
    expect(blink(hz, 0.05, 0.6, 4).flashesPerS).toBe(flashes);
  });
  it('a light just slower than 3 Hz passes, a faster one does not', () => {
    expect(blink(2.9, 0.05, 0.6, 6, 240).flashesPerS).toBeLessThanOrEqual(3);
    expect(blink(3.6, 0.05, 0.6, 6, 240).flashesPerS).toBeGreaterThan(3);
  });
  it('swings below 10 % of the maximum, or between two bright pictures, are none', () => {
    expect(blink(10, 0.3, 0.39, 3).flashesPerS).toBe(0);
    expect(blink(10, 0.3, 0.42, 3).flashesPerS).toBeGreaterThan(9);
    expect(blink(10, 0.82, 1, 3).flashesPerS).toBe(0);
    expect(blink(10, 0.7, 1, 3).flashesPerS).toBeGreaterThan(9);
  });
  it('a slow rise in small steps is one swing, and noise on it adds none', () => {
    const startS = Array.from({ length: 60 }, (_, i) => i / 60);
    const grids = startS.map((_, i) => grey(0.02 + 0.01 * i + 0.02 * (i % 2)));
    expect(countFlashes(grids, startS).flashesPerS).toBe(0.5);
  });
  it('a swing from the middle is seen although the light first went the other way', () => {
    const values = [0.5, 0.45, 0.56];
    expect(countFlashes(values.map(grey), [0, 0.1, 0.2]).flashesPerS).toBe(0.5);
  });
  it('saturated red counts where its luminance does not', () => {
    const red = (on: boolean) => Uint8Array.from(on ? [160, 0, 0] : [40, 0, 0]);
    const startS = Array.from({ length: 120 }, (_, i) => i / 60);
    const count = countFlashes(
      startS.map((_, i) => red(i % 6 < 3)),
      startS,
    );
    // 160 is a luminance of 0.07 in red: below the general threshold.
    expect(count.kind).toBe('red');
    expect(count.flashesPerS).toBeGreaterThan(9);
    const dull = (on: boolean) => Uint8Array.from(on ? [160, 110, 110] : [120, 80, 80]);
    expect(
      countFlashes(
        startS.map((_, i) => dull(i % 6 < 3)),
        startS,
      ).kind,
    ).toBe('general');
  });
  it('names the worst cell', () => {
    const startS = Array.from({ length: 60 }, (_, i) => i / 60);
    const grids = startS.map((_, i) => {
      const grid = new Uint8Array(9).fill(100);
      grid.fill(i % 10 < 5 ? 0 : 255, 6, 9);
      return grid;
    });
    expect(countFlashes(grids, startS)).toMatchObject({ cell: 2, kind: 'general' });
    expect(countFlashes([], [])).toEqual({ flashesPerS: 0, kind: 'general', cell: -1 });
  });
});
