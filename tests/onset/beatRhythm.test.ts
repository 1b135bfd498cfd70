/** The rate of a light's pulses against the frames, as fine as the light allows. */
import { describe, expect, it } from 'vitest';
import { fastVariation, strongestRhythm } from '../../src/onset/beatRhythm.js';
import { seededStream } from '../../src/simulate/random.js';

const FRAMES = 3800;
const timesT = Float64Array.from({ length: FRAMES }, (_, k) => k);
const all = [...timesT];

/** Light of pulses of a third of their cycle, in exposures of a sixteenth of it: a frame meets a pulse, a part or none. */
function pulses(perFrame: number, noise: number): Float64Array {
  const random = seededStream(5, 1);
  const litUntil = (turns: number) => Math.floor(turns) / 3 + Math.min(1 / 3, turns - Math.floor(turns));
  return timesT.map((k) => {
    const turns = k * perFrame + 0.21;
    return 16 * (litUntil(turns + 1 / 16) - litUntil(turns)) + noise * (random.next() - 0.5);
  });
}

describe('the rate of a rhythm', () => {
  it.each([0.46913557, 0.28118997, 0.03453995])(
    '%s a frame is found to 0.004 turns over the clip',
    (rate) => {
      const found = strongestRhythm([pulses(rate, 0.02), pulses(rate, 0.02)], timesT, all, []);
      // Edges of these pulses pass a frame in 0.06 turns: a hundredth of a turn reads as a sixth of the light.
      expect(Math.abs(found!.perFrame - rate) * FRAMES).toBeLessThan(0.004);
    },
  );

  it.each([2, 3, 4, 6])('that is %s times the stated one is taken for it, though both repeat', (times) => {
    const stated = 0.0718;
    const own = times * stated + 2e-5;
    const found = strongestRhythm([pulses(own, 0.02), pulses(own, 0.02)], timesT, all, [stated]);
    const alias = Math.min(own, 1 - own);
    expect(Math.abs(found!.perFrame - alias) * FRAMES).toBeLessThan(0.004);
  });

  it('is not looked for in flashes that a coder holds still, each as bright as a slow drift left it: they hardly vary', () => {
    const inFlash = (k: number) => k % 97 < 13;
    const flashes = Float64Array.from({ length: FRAMES }, (_, k) =>
      inFlash(k) ? 0.7 + 0.1 * Math.sin(Math.floor(k / 97)) + 1e-9 * (k % 2) : 0.05,
    );
    const bright = [...flashes.keys()].filter(inFlash);
    expect(fastVariation([flashes, flashes], bright)).toBeLessThan(1e-6);
    expect(fastVariation([pulses(0.281, 0.02)], all)).toBeGreaterThan(0.1);
  });

  it('that keeps pace with the frames does so to the end, though one that does not explains more of the noise', () => {
    const random = seededStream(7, 1);
    // Lit in every other frame, with a lamp that swells and ebbs and some noise.
    const lit = () =>
      timesT.map((k) => (k % 2) * (1 + 0.03 * Math.sin(k / 190)) + 0.02 * (random.next() - 0.5));
    const found = strongestRhythm([lit(), lit(), lit()], timesT, all, []);
    expect(found!.perFrame).toBe(0.5);
    // One that is off by half a turn over the clip is told.
    const slow = 0.5 - 0.5 / FRAMES;
    const drifting = timesT.map(
      (k) => 1 + Math.cos(2 * Math.PI * (k * slow + 0.1)) + 0.02 * (random.next() - 0.5),
    );
    const other = strongestRhythm([drifting, drifting], timesT, all, []);
    expect(Math.abs(other!.perFrame - slow) * FRAMES).toBeLessThan(0.05);
  });

  it('that is stated stays as it is stated, where it explains the light', () => {
    const found = strongestRhythm([pulses(0.125, 0.02)], timesT, all, [0.125]);
    expect(found!.perFrame).toBe(0.125);
  });
});
