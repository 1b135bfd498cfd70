/** How far light that ripples may move an edge, on windows made here. */
import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { blurShape, fitEdge } from '../../src/onset/edgeFit.js';
import type { EdgeWindow } from '../../src/onset/edgeWindow.js';
import { rippleShiftT, unrestOf } from '../../src/onset/ripple.js';

const FRAMES = 60;
const CROSSING = 25;

/** A step of 1 at frame 25, and on both plateaus what `ripple` adds. */
function windowOf(ripple: (k: number) => number): EdgeWindow {
  const values = Float64Array.from({ length: FRAMES }, (_, k) => (k < CROSSING ? 0 : 1) + ripple(k));
  let variance = 0;
  for (let k = 0; k < FRAMES; k++) variance += ripple(k) ** 2 / FRAMES;
  const openT = Float64Array.from({ length: FRAMES }, (_, k) => k - CROSSING);
  const channel = { values, openT, varianceBefore: variance, varianceAfter: variance, from: 0, extent: 1 };
  return { firstFrame: 0, originS: 0, channels: [channel] };
}

describe('ripple', () => {
  const random = seededRandom(5);
  const noise = Float64Array.from({ length: FRAMES }, () => random.normal());

  it('is none where plateaus are as still as a sensor leaves them', () => {
    expect(
      rippleShiftT(
        windowOf((k) => 0.02 * noise[k]!),
        1,
      ),
    ).toBeNull();
  });

  it('moves an edge by about twice its share of the step, where it changes from frame to frame', () => {
    const shift = rippleShiftT(
      windowOf((k) => 0.2 * noise[k]!),
      1,
    )!;
    expect(shift).toBeGreaterThan(0.3);
    expect(shift).toBeLessThan(0.8);
  });

  it('moves it by frames, where it takes many frames to come and go', () => {
    const shift = rippleShiftT(
      windowOf((k) => 0.3 * Math.sin((2 * Math.PI * k) / 40)),
      1,
    )!;
    expect(shift).toBeGreaterThan(1.5);
  });

  it('is what single pulses of an answer are, which the noise of other plateaus does not tell', () => {
    // A tube at 144 Hz before 120 frames a second, a quarter of each exposed: of five frames one or two catch its pulses.
    const caught = [6.36, 3.9, -0.93, -0.93, -0.93];
    const windows = [() => 0, (k: number) => caught[(k - CROSSING) % caught.length]!].map((answer) => {
      const made = windowOf((k) => 0.02 * noise[k]! + (k < CROSSING ? 0 : answer(k)));
      const channels = made.channels.map((c) => ({ ...c, varianceBefore: 4e-4, varianceAfter: 4e-4 }));
      return { ...made, channels };
    });
    const shape = blurShape({ tauT: 0, sweepT: 0 }, 0.25);
    const shifts = windows.map((window) => {
      const posterior = fitEdge(window, shape, 0.03)!;
      const step = Math.abs(posterior.after - posterior.before);
      expect(rippleShiftT(window, step)).toBeNull();
      return rippleShiftT(window, step, unrestOf(window, shape.shape, posterior));
    });
    expect(shifts[0]).toBeNull();
    expect(shifts[1]).toBeGreaterThan(2);
  });
});
