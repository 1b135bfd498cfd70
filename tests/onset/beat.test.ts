/** Pulsed light told from steady light, on traces made here from the definition. */
import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { findBeat } from '../../src/onset/beat.js';
import type { Trace } from '../../src/trace/trace.js';
import { rowTrace } from './rowTrace.js';

const PERIOD_S = 1 / 240;
const FRAMES = 647;
const ROWS = 8;
/** Three flashes of a tenth of a second: first frame and last. */
const FLASHES = [
  [192, 227],
  [291, 327],
  [496, 531],
] as const;

/** A region whose eight rows all have the light that `lightOf` gives a frame, and noise. */
function traceOf(lightOf: (frame: number) => number, noise: number, frames = FRAMES): Trace {
  const random = seededRandom(11);
  const light = new Float32Array(frames * ROWS);
  for (let k = 0; k < frames; k++) {
    for (let c = 0; c < ROWS; c++) light[k * ROWS + c] = lightOf(k) + random.normal(0, noise);
  }
  return rowTrace(light, ROWS, PERIOD_S, Math.max(noise, 1e-4));
}

/** For how long a light has been on by a time, which is lit for a share of each period (definition of pulse dimming). */
const pulses = (periodT: number, duty: number) => (t: number) => {
  const whole = Math.floor(t / periodT);
  return whole * duty * periodT + Math.min(duty * periodT, t - whole * periodT);
};

const flashOf = (frame: number) => FLASHES.findIndex(([from, to]) => frame >= from && frame <= to);

describe('the beat of a light', () => {
  // A coder that spends nothing on a still picture: each flash has a level of its own, and no frame differs from the next.
  it('is not found in flashes that are steady, each at a level of its own', () => {
    const levels = [0.5742, 0.5719, 0.5702];
    // Once in each flash the coder comes a little nearer.
    const nearer = (k: number) => ([209, 309, 513][flashOf(k)]! <= k ? 0.0004 : 0);
    const steady = traceOf((k) => (flashOf(k) >= 0 ? levels[flashOf(k)]! + nearer(k) : 0.036), 0);
    expect(findBeat(steady, [60])).toBeNull();
  });

  it('is not found in steady light with noise', () => {
    expect(
      findBeat(
        traceOf((k) => (flashOf(k) >= 0 ? 0.57 : 0.036), 0.004),
        [60],
      ),
    ).toBeNull();
  });

  it('is found in flashes of the same length whose light comes in pulses', () => {
    // A backlight at 59.94 Hz that is lit for a quarter of each refresh, and a shutter that is open throughout.
    const periodT = 1 / (59.94 * PERIOD_S);
    const litBy = pulses(periodT, 0.25);
    const pulsed = traceOf((k) => (flashOf(k) >= 0 ? 0.8 * (litBy(k + 1) - litBy(k)) : 0), 0.002);
    const beat = findBeat(pulsed, [59.94]);
    expect(beat?.perFrame).toBeCloseTo(1 / periodT, 2);
    expect(beat?.depth).toBeGreaterThan(0.8);
  });

  // A dimmer at 493 Hz against 480 frames a second, each open for 0.41 of its time: the light is out for ten frames of
  // every 36. Times as a share of the frame, from the definition.
  const dimmed = (k: number, dark: number) => {
    const periodT = 1 / 1.0274;
    const litBy = pulses(periodT, 0.31);
    return dark + ((1 - dark) * (litBy(k + 0.41) - litBy(k))) / (0.31 * periodT);
  };

  it('is found where pulses nearly keep pace with the frames, so that the light goes out for many frames', () => {
    const beat = findBeat(
      traceOf((k) => 0.8 * dimmed(k, 0), 0.002),
      [60],
    );
    expect(beat?.perFrame).toBeCloseTo(0.0274, 3);
    expect(beat?.depth).toBeGreaterThan(0.9);
  });

  // A dimmer at 486 Hz against 480 frames a second, lit for 0.65 of its time and seen for 0.17 of each frame: once in 76
  // frames the light is out, for a dozen of them. Flashes of 26 frames show too little of that; the dim picture shows it.
  it('is found in the dim picture, where flashes are too short to show it', () => {
    const periodT = 1 / 1.0132;
    const litBy = pulses(periodT, 0.65);
    const from = [218, 495, 715, 888, 1061, 1391, 1648, 2048, 2441, 2851];
    const isBright = (k: number) => from.some((f) => k >= f && k < f + 26);
    const flashing = (k: number) => ((isBright(k) ? 0.95 : 0.05) * (litBy(k + 0.17) - litBy(k))) / 0.17;
    const beat = findBeat(traceOf(flashing, 0.001, 3200), [144]);
    expect(beat?.perFrame).toBeCloseTo(0.0132, 3);
    expect(beat?.depth).toBeGreaterThan(0.9);
  });

  it('leaves dark pictures of a tenth of a second out of the pulses of a bright one', () => {
    // Lit for half of each refresh at 59.94 Hz.
    const darkFrom = [60, 151, 262, 341, 470, 566];
    const isDark = (k: number) => darkFrom.some((from) => k >= from && k < from + 26);
    const periodT = 1 / (59.94 * PERIOD_S);
    const litBy = pulses(periodT, 0.5);
    const darkened = (k: number) => (litBy(k + 0.98) - litBy(k)) * (isDark(k) ? 0.03 : 0.6);
    const beat = findBeat(traceOf(darkened, 0.002), [59.94]);
    expect(beat?.perFrame).toBeCloseTo(1 / periodT, 2);
    expect(beat?.explained).toBeGreaterThan(0.95);
    expect(beat?.stillFrames.some(isDark)).toBe(false);
  });

  // Slow as a drift, but the same again in every turn all over the clip: a drift is not.
  it('is found in a slow ripple that leaves most of the light, where every turn is like the others', () => {
    const beat = findBeat(
      traceOf((k) => 0.8 * dimmed(k, 0.6), 0.002),
      [60],
    );
    expect(beat?.perFrame).toBeCloseTo(0.0274, 3);
    expect(beat?.depth).toBeLessThan(0.5);
  });

  it.each([1, 2, 3, 4, 5, 6])(
    'is not found in light that drifts as slowly, but never twice alike (%i)',
    (seed) => {
      const random = seededRandom(seed);
      const drift: number[] = [];
      let target = 1;
      for (let k = 0; k < FRAMES; k++) {
        // The camera goes for another exposure about every sixth of a second, and nears it as cameras do.
        if (k % 36 === 0) target = random.uniform(0.75, 1.25);
        drift.push((drift[k - 1] ?? 1) + 0.08 * (target - (drift[k - 1] ?? 1)));
      }
      expect(
        findBeat(
          traceOf((k) => 0.6 * drift[k]!, 0.002),
          [60],
        ),
      ).toBeNull();
    },
  );

  // Answers to presses by a clock repeat as pulses do, but the picture changes at once, or as fast as a panel can.
  it.each([
    [0.06, 0.6, 0],
    [0.06, 0.6, 1.5],
    [0.3, 0.36, 0],
    [0.3, 0.36, 1.5],
    [0.3, 0.5, 4],
  ])(
    'is not found in a picture that goes between %f and %f by a clock (time constant %f frames)',
    (low, high, tau) => {
      let light = low;
      const shown = Array.from({ length: 120 * 30 + 90 }, (_, k) => {
        const target = k > 50 && (k - 50) % 120 < 30 ? high : low;
        light = tau === 0 ? target : light + (1 - Math.exp(-1 / tau)) * (target - light);
        return light;
      });
      expect(
        findBeat(
          traceOf((k) => shown[k]!, 0.002, shown.length),
          [60],
        ),
      ).toBeNull();
    },
  );

  // A dimmer at 233.2 Hz against 240 frames a second: the beat takes 35 frames, a flash of the screen hardly as long. The
  // mean of the frames around takes it for the level of the flash, and what is left goes twice as fast.
  it('is found at its own rate where a flash is no longer than one turn of it', () => {
    const periodT = 240 / 233.2;
    const litBy = pulses(periodT, 0.48);
    const from = Array.from({ length: 10 }, (_, i) => 90 + 151 * i + 37 * ((i * 0.618034) % 1));
    const isBright = (k: number) => from.some((f) => k >= f && k < f + 33);
    const flashing = (k: number) => ((isBright(k) ? 0.8 : 0.06) * (litBy(k + 0.71) - litBy(k))) / 0.71;
    const beat = findBeat(traceOf(flashing, 0.002, 1635), [60.0988]);
    expect(beat?.perFrame).toBeCloseTo(1 - 233.2 / 240, 3);
  });
});
