/** Displays that are dark for half of each refresh, filmed in memory, with the refresh not told. */
import { describe, expect, it } from 'vitest';
import { measureSamples } from '../../src/measure.js';
import type { Scene } from '../../src/simulate/scene.js';
import { filmScene } from '../filmedScene.js';

// Camera frames. Dark parts of a refresh that were taken for those of a dimmer cost up to half of their length more.
const LARGEST_ERROR_T = 0.5;

/** An OLED with black frames: cells that switch at once, lit for half of the refresh. */
function withBlackFrames(scene: Scene): Scene {
  const display = {
    kind: 'strobed' as const,
    riseTauMs: 0.1,
    fallTauMs: 0.1,
    pulseStart: 0.4,
    pulseShare: 0.5,
  };
  return { ...scene, screen: { ...scene.screen, display } };
}

describe('a display with black frames whose refresh is not told', () => {
  it.each([
    { refreshHz: 50, content: 'patch' as const, seed: 32 },
    // Half of the capture rate: lit and dark frames take turns.
    { refreshHz: 120, content: 'patch' as const, seed: 31 },
    // Rhythms that a dimmer may have as well: the changes tell. Short flashes hardly leave a still frame.
    { refreshHz: 144, content: 'flash' as const, seed: 34 },
    { refreshHz: 165, content: 'toggle' as const, seed: 34 },
  ])(
    'at $refreshHz Hz: latencies count to the start of the first lit part, as the truth does',
    async (of) => {
      const film = await filmScene(
        of.seed,
        {
          refreshHz: [of.refreshHz],
          content: [of.content],
          exposureFraction: [0.45, 0.6],
          display: ['strobed'],
          presses: 8,
        },
        withBlackFrames,
      );
      const recipe = { ...film.recipe, display: { refreshHz: null } };
      const { record } = measureSamples(film.samples, film.times, film.facts, recipe);
      const truths = film.truthMs.filter((t) => t !== null);
      const found = record.presses.flatMap((p) => p.responses.flatMap((r) => r.latencyMs ?? []));
      expect(found.length).toBe(truths.length);
      found.forEach((latencyMs, i) => {
        expect(Math.abs(latencyMs - truths[i]!) / film.periodMs).toBeLessThan(LARGEST_ERROR_T);
      });
    },
  );
});

describe('a slow LED and a short exposure before a display with black frames whose refresh is not told', () => {
  // A light that takes most of a camera frame to come on looks like an instant one behind a shutter that is open as long;
  // the display's pulses say that it is not. Rows that change while the display is lit scatter about the lattice.
  it('no answer is a camera frame off, and the exposure is not longer than the pulses allow', async () => {
    const film = await filmScene(
      32,
      {
        refreshHz: [165],
        content: ['toggle'],
        exposureFraction: [0.15, 0.15],
        display: ['strobed'],
        presses: 10,
      },
      (scene) => {
        const dark = withBlackFrames(scene);
        return { ...dark, led: { ...dark.led, riseMs: 3.9 } };
      },
    );
    const capture = { ...film.recipe.capture, exposureFraction: null };
    const recipe = { ...film.recipe, capture, display: { refreshHz: null } };
    const { record, findings } = measureSamples(film.samples, film.times, film.facts, recipe);
    expect(findings.led.exposure!.fraction).toBeGreaterThan(0.85);
    expect(record.timing.exposureFraction).toBeLessThan(0.8);
    expect(record.presses.length).toBe(film.truthMs.length);
    record.presses.forEach((press, i) => {
      const [response] = press.responses;
      const errorT = (response!.latencyMs! - film.truthMs[i]!) / film.periodMs;
      expect(Math.abs(errorT)).toBeLessThan(1);
      expect(response!.flags).toContain('flickering-light');
    });
    expect(record.warnings.join(' ')).toMatch(/165\.00 times a second/);
  });
});
