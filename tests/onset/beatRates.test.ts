/**
 * Rates of pulses that nobody states. A rate f sampled at a rate r reads as |f - n r| (C. E. Shannon, Communication in the
 * presence of noise, Proc. IRE 37, 1949): all rates with the same remainder are what the frames may show.
 */
import { describe, expect, it } from 'vitest';
import { strongestBeats } from '../../src/onset/beatRates.js';

const FPS = 240;

/** Short pulses of a rate in frames that are open for two thirds of the time. */
function film(hz: number): { timesT: Float64Array; values: Float64Array } {
  const timesT = Float64Array.from({ length: 1200 }, (_, k) => k);
  const values = timesT.map((t) => {
    const phase = (((t + 0.13) * hz) / FPS) % 1;
    return phase > 1 - (0.66 * hz) / FPS ? 1 : 0;
  });
  return { timesT, values };
}

describe('rates that are not stated', () => {
  it.each([
    [144.02, 95.98],
    [165.01, 74.99],
  ])('%d Hz is thought of beside its mirror image, %d Hz', (hz, image) => {
    const { timesT, values } = film(hz);
    const found = strongestBeats(timesT, values, FPS, null, true);
    for (const rate of [hz, image])
      expect(Math.min(...found.map((f) => Math.abs(f - rate)))).toBeLessThan(0.03);
  });

  it('59.94 Hz has no image that displays have, and is the lowest', () => {
    const { timesT, values } = film(59.94);
    const found = strongestBeats(timesT, values, FPS, null, true);
    expect(found[0]).toBeCloseTo(59.94, 1);
    expect(found.every((f) => Math.abs(f - 180.06) > 1)).toBe(true);
  });

  it('a light that does not beat has none', () => {
    const timesT = Float64Array.from({ length: 1200 }, (_, k) => k);
    expect(strongestBeats(timesT, new Float64Array(1200).fill(0.5), FPS, null, true)).toEqual([]);
  });
});
