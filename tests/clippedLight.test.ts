/** LEDs and screens that are brighter than the camera's white: method 2 leaves clipped pixels out, where others are left. */
import { describe, expect, it } from 'vitest';
import { measureSamples } from '../src/measure.js';
import type { ClipSamples } from '../src/samples/samples.js';
import type { Scene } from '../src/simulate/scene.js';
import { type ClipError, heldOutScene, measureScene } from './accuracy/heldOutScenes.js';
import { filmScene } from './filmedScene.js';

const TOLD = { readout: true, refresh: true, exposure: false };

/** The scene of a seed, changed: without a glow around the LED nothing of it stays below white. */
function clipOf(seed: number, change: (scene: Scene) => Scene): Promise<ClipError> {
  const scene = heldOutScene(seed, {
    display: ['oled'],
    content: ['flash'],
    exposureFraction: [0.5, 1],
    presses: 10,
  });
  return measureScene(change(scene), TOLD);
}

const withLed =
  (onLight: number) =>
  (scene: Scene): Scene => ({
    ...scene,
    led: { ...scene.led, onLight, haloRadiusPx: 0, haloShare: 0 },
  });
const withScreen =
  (whiteLight: number) =>
  (scene: Scene): Scene => ({
    ...scene,
    screen: { ...scene.screen, whiteLight },
  });
const reasons = (clip: ClipError) => clip.record.fitness.reasons.map((r) => r.code);
const clippedMs = (clip: ClipError) =>
  clip.record.presses[0]!.responses[0]!.budget?.find((b) => b.name === 'clipped light')
    ?.standardUncertaintyMs;

describe('light beyond the camera’s white', () => {
  it.each([13002, 13005])(
    'an LED that clips in all of its cells is timed, with an interval that says so (%d)',
    async (seed) => {
      const clip = await clipOf(seed, withLed(10));
      expect(clip.missed).toBe(0);
      expect(reasons(clip)).toEqual(expect.arrayContaining(['led-saturated', 'exposure-assumed']));
      expect(clip.record.fitness.evidence!.led!.clippedShare).toBeGreaterThan(0.05);
      // Any time of the exposure looks like its beginning.
      expect(clippedMs(clip)! / clip.periodMs).toBeCloseTo(0.5 * 0.75, 2);
      expect(clip.presses.filter((p) => p.covered).length).toBeGreaterThanOrEqual(9);
    },
  );

  it('an LED whose glow clips as well is timed with the exposure of the budget, not with its own, too short one', async () => {
    const clip = await clipOf(13003, (scene) => ({
      ...scene,
      led: { ...scene.led, onLight: 10, haloRadiusPx: 20, haloShare: 0.5 },
    }));
    expect(reasons(clip)).toEqual(expect.arrayContaining(['led-saturated', 'exposure-assumed']));
    const mean = clip.presses.reduce((sum, p) => sum + p.errorMs, 0) / clip.presses.length;
    // Its clipped frames tell of half of the exposure and less, which moved the latencies by 0.20 frames.
    expect(Math.abs(mean) / clip.periodMs).toBeLessThan(0.12);
  });

  it('a screen of twice the white: most intervals hold the truth, and the clip says what to do', async () => {
    const clip = await clipOf(13001, withScreen(2));
    expect(reasons(clip)).toContain('screen-saturated');
    expect(clip.record.fitness.evidence!.screen!.clippedShare).toBeGreaterThan(0.9);
    expect(clippedMs(clip)).toBeGreaterThan(0);
    expect(clip.presses.filter((p) => p.covered).length).toBeGreaterThanOrEqual(9);
  });

  it('a screen of which cells are left in its upper rows only answers as the whole of it does', async () => {
    const film = await filmScene(7, {
      display: ['panel'],
      content: ['flash'],
      captureRateHz: [960],
      refreshHz: [60],
      presses: 3,
    });
    const latenciesT = (samples: ClipSamples) =>
      measureSamples(samples, film.times, film.facts, film.recipe).record.presses.map(
        (p) => p.responses[0]!.latencyMs! / film.periodMs,
      );
    const regions = film.samples.regions.map((r) => {
      if (r.region.role === 'led') return r;
      // All of the upper half, and every tenth of the lower one.
      const clippedShare = r.clippedShare.map((_, c) =>
        c < r.clippedShare.length / 2 || c % 10 === 0 ? 0 : 1,
      );
      return { ...r, clippedShare };
    });
    const whole = latenciesT(film.samples);
    const left = latenciesT({ ...film.samples, regions });
    expect(whole).toHaveLength(3);
    whole.forEach((t, i) => {
      expect(Math.abs(left[i]! - t)).toBeLessThan(0.15);
    });
  });

  it('neither clips: nothing is added', async () => {
    const clip = await clipOf(13001, (scene) => scene);
    expect(reasons(clip)).not.toContain('screen-saturated');
    expect(clippedMs(clip)).toBeUndefined();
  });
});
