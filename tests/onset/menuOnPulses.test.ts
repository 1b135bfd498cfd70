/** A menu whose highlight moves on, on screens that shine in pulses: as bright as a whole before and after each press. */
import { describe, expect, it } from 'vitest';
import { heldOutScene, measureScene } from '../accuracy/heldOutScenes.js';
import { asMenu } from '../menuScene.js';

// Camera frames: a flash more or less would be three of them and more.
const LARGEST_ERROR_T = 0.5;

describe('a menu on a screen that shines in pulses', () => {
  it.each([
    { display: 'strobed' as const, refreshHz: 50, seed: 51, mostMissed: 0 },
    { display: 'strobed' as const, refreshHz: 75, seed: 53, mostMissed: 0 },
    // Of some items too few rows are lit to tell the pictures beside each change: those answers are left open.
    { display: 'tube' as const, refreshHz: 75, seed: 52, mostMissed: 6 },
  ])('$display, $refreshHz Hz: presses are answered by the first pulse of their new picture', async (of) => {
    const scene = heldOutScene(of.seed, {
      refreshHz: [of.refreshHz],
      captureRateHz: [240],
      content: ['toggle'],
      exposureFraction: [0.7, 0.9],
      display: [of.display],
      presses: 10,
    });
    const { presses, missed } = await measureScene(asMenu(scene), {
      readout: true,
      refresh: true,
      exposure: false,
    });
    expect(missed).toBeLessThanOrEqual(of.mostMissed);
    expect(presses.length + missed).toBe(10);
    for (const { errorMs } of presses) expect(Math.abs(errorMs) * 0.24).toBeLessThan(LARGEST_ERROR_T);
  });
});
