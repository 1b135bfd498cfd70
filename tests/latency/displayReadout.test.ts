import { describe, expect, it } from 'vitest';
import { displayReadout, type SeenScan } from '../../src/latency/displayReadout.js';
import { fitScanout } from '../../src/latency/scanout.js';

const WAITS = [3.1, 12.4, 7.7, 0.4, 15.9];
const PERIOD_MS = 1000 / 240;
const PICTURE_PX = 1080;

/**
 * Latencies of three bands of a display whose `lines` of `allLines` are drawn in 1/60 s over rows 200 to 880, filmed
 * by a sensor of readout `rho`, and corrected with a readout of 0.6.
 */
function seen(rho: number, lines: number, allLines: number, change: Partial<SeenScan> = {}): SeenScan {
  const rotated = change.orientation?.rotationDeg === 180 ? -1 : 1;
  const drawn = ((1000 / 60) * (lines / allLines)) / 680;
  const slope = drawn + (rotated * (0.6 - rho) * PERIOD_MS) / PICTURE_PX;
  const scanout = fitScanout(
    [260, 540, 820].map((middlePx) => ({
      name: `at ${middlePx}`,
      middlePx,
      latenciesMs: WAITS.map((wait, i) => 50 + wait + slope * middlePx + 0.01 * ((i * middlePx) % 3)),
    })),
    0,
  );
  return {
    ...{ scanout, spanPx: 560, refreshMs: 1000 / 60, periodMs: PERIOD_MS, usedFraction: 0.6 },
    ...{ orientation: { rotationDeg: 0 }, pictureHeightPx: PICTURE_PX, ...change },
  };
}

const rows = { topPx: 200, bottomPx: 880 };

describe('displayReadout', () => {
  it.each([0, 0.35, 0.8, 1])('finds a readout of %s (CTA-861, 1080p60: 1080 of 1125 lines)', (rho) => {
    const found = displayReadout({ ...rows, mode: '1080p60' }, seen(rho, 1080, 1125));
    expect(found.fraction).not.toBeNull();
    if (found.fraction === null) return;
    expect(Math.abs(found.fraction - rho)).toBeLessThan(0.03);
    expect(found.sd).toBeGreaterThan(0.02);
    expect(found.sd).toBeLessThan(0.1);
    expect(found.note).toMatch(/assuming that it draws at the pace of its 1080p60 signal/);
  });

  it('takes the line counts of the signal that is named (CTA-861, 480p: 480 of 525 lines)', () => {
    const named = displayReadout({ ...rows, mode: '480p60' }, seen(0.7, 480, 525));
    expect(named.fraction).toBeCloseTo(0.7, 1);
    // Not named, the usual share is taken, and the readout would have to be negative or late by far.
    const guessed = displayReadout(rows, seen(0.7, 480, 525));
    expect(guessed.fraction === null || Math.abs(guessed.fraction - 0.7) < 3 * guessed.sd).toBe(true);
  });

  it('reads upwards where the camera was held upside down', () => {
    const turned = { orientation: { rotationDeg: 180 } } as const;
    expect(displayReadout(rows, seen(0.8, 1080, 1125, turned)).fraction).toBeCloseTo(0.8, 1);
  });

  it.each([
    ['a clip filmed in portrait', { orientation: { rotationDeg: 90 } } as const, /the clip is turned/],
    ['no scan seen', { scanout: null }, /two screen regions at different heights/],
    ['no refresh known', { refreshMs: null }, /state it with --refresh/],
  ])('tells why there is none: %s', (_, change, why) => {
    const none = displayReadout(rows, seen(0.5, 1080, 1125, change));
    expect(none.fraction).toBeNull();
    expect(none.note).toMatch(why);
  });

  it('believes no display that draws all at once, or twice as fast as its signal', () => {
    const still = { ...seen(0.5, 1080, 1125).scanout!, msPerPx: 0 };
    expect(displayReadout(rows, seen(0.5, 1080, 1125, { scanout: still })).fraction).toBeNull();
    const quick = displayReadout(rows, seen(0.5, 540, 1125));
    expect(quick.fraction).toBeNull();
    expect(quick.note).toMatch(/a pace of its own/);
  });
});
