/** A faint answer of a large area under noise: the mean of n values has 1 / sqrt(n) of their noise (arithmetic). */
import { describe, expect, it } from 'vitest';
import type { Overview } from '../../src/region/activity.js';
import { chooseRegions } from '../../src/region/findRegions.js';
import { blocksOfPooled, pooledOverview } from '../../src/region/pooledOverview.js';
import { seededStream } from '../../src/simulate/random.js';
import { randomScene } from '../../src/simulate/randomScene.js';
import { simulateSource } from '../../src/simulate/renderSource.js';

const RATE_HZ = 120;
const COLUMNS = 66;
const ROWS = 37;
const LED = { x: 6, y: 16, width: 2, height: 2 };
const SCREEN = { x: 28, y: 8, width: 32, height: 20 };
const NOISE_CODES = 4;
const SIDE = 4;
const LARGE_SIDE = 8;
/** Five squares of 16 blocks, where an area of 256 would be believed without such good time. */
const SPRITE = { x: 36, y: 12, width: 8, height: 8 };

const holds = (r: typeof LED, x: number, y: number) =>
  x >= r.x && x < r.x + r.width && y >= r.y && y < r.y + r.height;

/** A LED that is lit for 0.12 s at each press, and a screen of which a part gets brighter by `answerCodes` 58 ms later. */
function film(presses: number, answerCodes: number, part = SCREEN, seed = 5): Overview {
  const draw = seededStream(seed, 2);
  const frames = Math.round((0.8 * presses + 1) * RATE_HZ);
  const pressesS = Array.from({ length: presses }, (_, i) => 0.4 + 0.8 * i + 0.3 * ((i * 0.618034) % 1));
  const on = (t: number, fromS: number) => pressesS.some((p) => t >= p + fromS && t < p + fromS + 0.12);
  const luma = new Uint8Array(frames * ROWS * COLUMNS);
  for (let k = 0; k < frames; k++) {
    const lit = on(k / RATE_HZ, 0);
    const answers = on(k / RATE_HZ, 0.058);
    for (let y = 0; y < ROWS; y++) {
      for (let x = 0; x < COLUMNS; x++) {
        let v = 70;
        if (holds(SCREEN, x, y)) v = 100;
        if (answers && holds(part, x, y)) v += answerCodes;
        if (holds(LED, x, y)) v = lit ? 180 : 20;
        luma[(k * ROWS + y) * COLUMNS + x] = Math.round(v + draw.between(-NOISE_CODES, NOISE_CODES));
      }
    }
  }
  return { columns: COLUMNS, rows: ROWS, frames, luma, rateHz: RATE_HZ };
}

const { facts } = simulateSource(randomScene(1, { widthPx: 4 * COLUMNS, heightPx: 4 * ROWS }));

describe('a shrunken clip shrunken again', () => {
  it('holds means of squares, at the noise of a single block', () => {
    const overview = film(1, 0);
    const { columns, rows, luma } = pooledOverview(overview, SIDE);
    expect([columns, rows]).toEqual([Math.floor(COLUMNS / SIDE), Math.floor(ROWS / SIDE)]);
    const square = 3 * columns + 12;
    const blocks = [...blocksOfPooled(new Map([[square, 9]]), overview, SIDE).keys()];
    expect(blocks).toHaveLength(SIDE ** 2);
    const series: number[] = [];
    for (let k = 0; k < overview.frames; k++) {
      const light = blocks.reduce((sum, b) => sum + overview.luma[k * COLUMNS * ROWS + b]!, 0);
      const value = luma[k * columns * rows + square]!;
      // In quarters of a code, rounded.
      expect(Math.abs(value - (SIDE * light) / SIDE ** 2)).toBeLessThanOrEqual(0.5);
      series.push(value);
    }
    const mean = series.reduce((sum, v) => sum + v, 0) / series.length;
    const sd = Math.sqrt(series.reduce((sum, v) => sum + (v - mean) ** 2, 0) / series.length);
    // Even noise within +-4 codes has a standard deviation of 4 / sqrt(3); twelve standard errors either way.
    expect(Math.abs(sd / (NOISE_CODES / Math.sqrt(3)) - 1)).toBeLessThan(0.6);
  });

  it('shows a screen whose answer is fainter than the noise of its blocks', () => {
    expectsScreen(film(9, 2), SCREEN, 0);
  });

  it('shows one whose answer is fainter than the noise of small squares, in large ones', () => {
    expectsScreen(film(9, 1), SCREEN, LARGE_SIDE);
  });

  it('shows a small one that comes so well in time that it cannot be chance', () => {
    expectsScreen(film(12, 2.5, SPRITE), SPRITE, SIDE);
  });

  it('shows no screen where nothing answers', () => {
    for (let seed = 5; seed < 8; seed++) {
      const { regions, unsure } = chooseRegions(film(12, 0, SCREEN, seed), facts);
      expect(regions.length === 0 || unsure).toBe(true);
    }
  });
});

/** The found regions must hold the light, and lie on the screen but for `rimBlocks` of what they were found by. */
function expectsScreen(overview: Overview, screen: typeof SCREEN, rimBlocks: number): void {
  const { regions, unsure, notes } = chooseRegions(overview, facts);
  expect(notes).toEqual([]);
  expect(unsure).toBe(false);
  const led = regions.find((r) => r.role === 'led')!;
  expect(holds(led, 4 * (LED.x + 1), 4 * (LED.y + 1))).toBe(true);
  const screens = regions.filter((r) => r.role === 'screen');
  expect(screens.length).toBeGreaterThan(0);
  const around = {
    x: screen.x - rimBlocks,
    y: screen.y - rimBlocks,
    width: screen.width + 2 * rimBlocks,
    height: screen.height + 2 * rimBlocks,
  };
  for (const { x, y, width, height } of screens) {
    expect(holds(around, x / 4, y / 4)).toBe(true);
    expect(holds(around, (x + width) / 4 - 1, (y + height) / 4 - 1)).toBe(true);
  }
}
