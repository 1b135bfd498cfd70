/** What the record says of the light itself, against scenes whose shake and ripple are known. */
import { describe, expect, it } from 'vitest';
import { measureSamples } from '../src/measure.js';
import type { SceneOptions } from '../src/simulate/sceneOptions.js';
import { filmScene } from './filmedScene.js';

async function evidence(seed: number, options: SceneOptions) {
  const film = await filmScene(seed, { presses: 6, ...options });
  const { fitness } = measureSamples(film.samples, film.times, film.facts, film.recipe).record;
  return { ...fitness, shakePx: Math.SQRT2 * film.scene.camera.shakePx };
}

describe('the evidence of a record', () => {
  it('tells a hand from a tripod, and says so', async () => {
    const held = await evidence(202, { shakePx: [1, 1] });
    // A hand's place about its mean, both directions together; one tenth and a bit is lost by its own blur.
    expect(held.evidence!.led!.shakePx! / held.shakePx).toBeGreaterThan(0.6);
    expect(held.evidence!.led!.shakePx! / held.shakePx).toBeLessThan(1.3);
    expect(held.reasons.map((r) => r.code)).toContain('shaken');
    const still = await evidence(202, {});
    expect(still.evidence!.led!.shakePx).toBeLessThan(0.35);
    expect(still.reasons.map((r) => r.code)).not.toContain('shaken');
  });

  it('gives contrast and clipping of every region, and no ripple where the room has none', async () => {
    const { evidence: of } = await evidence(203, {});
    expect(Object.keys(of!)).toEqual(['led', 'top']);
    for (const { contrast, clippedShare, rippleHz } of Object.values(of!)) {
      expect(contrast).toBeGreaterThan(50);
      expect(clippedShare).toBe(0);
      expect(rippleHz).toBeNull();
    }
  });

  it('sees a backlight that is dimmed by pulses', async () => {
    const { evidence: of } = await evidence(203, { display: ['pwm'] });
    expect(of!.top!.rippleDepth).toBeGreaterThan(0.02);
  });
});
