/** A beat told from what the picture does, on light made here from the definition: flashes, and an item that moves on. */
import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { findBeat } from '../../src/onset/beat.js';
import { beatOfOnePicture } from '../../src/onset/equalPictures.js';
import type { Trace } from '../../src/trace/trace.js';
import { rowTrace } from './rowTrace.js';

const PERIOD_S = 1 / 240;
const FRAMES = 960;
const ROWS = 16;
const STAYS = 120;
const REFRESH_T = 4.8;
const FLASH_T = 0.5;
const EXPOSURE = 0.8;

/** Light of a flash once a refresh in an exposure, added up in small steps. */
function flashed(openT: number): number {
  let sum = 0;
  for (let i = 0; i < 80; i++) {
    const turns = (openT + (EXPOSURE * (i + 0.5)) / 80) / REFRESH_T;
    if ((turns - Math.floor(turns)) * REFRESH_T < FLASH_T) sum++;
  }
  return sum / 80;
}

/** Rows of which a quarter, a menu's item, is lit; the next quarter after each stay. */
function menu(): Trace {
  const random = seededRandom(23);
  const light = new Float32Array(FRAMES * ROWS);
  for (let k = 0; k < FRAMES; k++) {
    const item = Math.floor(k / STAYS) % 4;
    for (let c = 0; c < ROWS; c++) {
      const picture = c >> 2 === item ? 0.7 : 0.15;
      light[k * ROWS + c] = picture * flashed(k) + random.normal(0, 0.001);
    }
  }
  return rowTrace(light, ROWS, PERIOD_S, 0.001);
}

describe('the beat of one picture', () => {
  const trace = menu();
  const mixed = findBeat(trace, [50])!;
  const equal = beatOfOnePicture(trace, mixed, [50], 5);

  it('explains the light that several pictures together left open', () => {
    expect(mixed.explained).toBeLessThan(0.98);
    expect(equal.explained).toBeGreaterThan(0.998);
    expect(equal.isOfPictures).toBe(true);
    expect(Math.abs(equal.perFrame - 1 / REFRESH_T)).toBeLessThan(1e-4);
  });

  it('leaves each band as bright as if its picture had stayed', () => {
    for (const { signal } of equal.bands) {
      const bright = equal.stillFrames.filter((k) => flashed(k) > 0.5).map((k) => signal[k]! / flashed(k));
      const most = Math.max(...bright);
      expect(Math.min(...bright) / most).toBeGreaterThan(0.9);
    }
    // Frames next to a change may show both pictures.
    for (let at = STAYS; at < FRAMES; at += STAYS) expect(equal.stillFrames).not.toContain(at);
  });

  it('is the beat as it was where there is one picture', () => {
    const light = Float32Array.from(trace.light, (_, i) => 0.5 * flashed(Math.floor(i / ROWS)));
    const still = { ...trace, light };
    const beat = findBeat(still, [50])!;
    expect(beatOfOnePicture(still, beat, [50], 5)).toBe(beat);
  });
});
