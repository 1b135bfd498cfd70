/** How much frames of still pictures tell about pulses, on times and light made here from the definitions. */
import { describe, expect, it } from 'vitest';
import { distinctPhases, fitStill } from '../../src/onset/stillLight.js';

const frames = (count: number) => Float64Array.from({ length: count }, (_, k) => k);

describe('phases of the pulses that frames meet', () => {
  // Eight frames to a pulse meet it at eight phases, and still do where the rate is off by a hundred-thousandth.
  it.each([8, 8 * (1 + 1e-5), 8 * (1 - 1e-5)])('eight for a period of %d frames', (periodT) => {
    expect(distinctPhases(frames(2000), periodT)).toBe(8);
  });
  it('24 where five pulses fill 24 frames', () => {
    expect(distinctPhases(frames(2000), 4.8)).toBe(24);
  });
  it('all of them for pulses that drift', () => {
    expect(distinctPhases(frames(2000), 4.004)).toBe(32);
  });
});

describe('brightness of the bands', () => {
  const openT = frames(40);
  const bands = [1, 0.5, 0.25, 0.125].map((brightness) => ({ brightness, share: brightness }));
  const lightBy = (caughtBy: (share: number) => number) =>
    fitStill(bands, 0, ({ brightness, share }) => ({
      openT,
      values: openT.map(() => brightness),
      caught: () => caughtBy(share),
      most: 1,
    }));
  it('is even where the model catches less where there is less light', () => {
    expect(lightBy((share) => share).uneven).toBeLessThan(0.01);
  });
  it('is uneven where the model catches the same everywhere, and both explain all of the light', () => {
    const same = lightBy(() => 1);
    expect(same.unexplained).toBeLessThan(1e-9);
    // Logarithms of 1, 1/2, 1/4, 1/8 about their mean, over the usual spread of 0.7: 2.4 / 0.49, less for what the dark hides.
    expect(same.uneven).toBeGreaterThan(3.5);
    expect(same.uneven).toBeLessThan(4.9);
  });
});
