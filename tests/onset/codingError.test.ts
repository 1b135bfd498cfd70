import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { levelScatter } from '../../src/onset/codingError.js';

/** A lamp that goes on and off, with the level of each plateau and the noise of each frame given. */
function blinking(levels: readonly number[], noiseSd: number, random: () => number) {
  const frames = 40;
  const crossings = levels.slice(1).map((_, i) => ({
    frame: (i + 1) * frames,
    sign: (i % 2 === 0 ? 1 : -1) as 1 | -1,
  }));
  const signal = Float64Array.from(
    { length: levels.length * frames },
    (_, k) => levels[Math.floor(k / frames)]! + noiseSd * random(),
  );
  return { signal, crossings };
}

const plateaus = 60;

function normal(seed: number): () => number {
  const random = seededRandom(seed);
  return () => random.normal();
}

describe('levelScatter', () => {
  it('finds the scatter of levels that was put in, whatever the noise of single frames', () => {
    // Closed form: the levels' own sd over the step; a median of some 30 differences is good to a third.
    for (const [sd, noise] of [
      [0.01, 0],
      [0.01, 0.005],
      [0.03, 0.01],
    ] as const) {
      const draw = normal(7);
      const levels = Array.from({ length: plateaus }, (_, i) => (i % 2) + sd * draw());
      const { signal, crossings } = blinking(levels, noise, draw);
      const found = levelScatter(signal, crossings, 1, 2);
      expect(found / sd).toBeGreaterThan(0.6);
      expect(found / sd).toBeLessThan(1.5);
    }
  });

  it('says nothing of plain noise, of slow drift, and of too few edges', () => {
    const draw = normal(8);
    const steady = Array.from({ length: plateaus }, (_, i) => i % 2);
    const noisy = blinking(steady, 0.02, draw);
    expect(levelScatter(noisy.signal, noisy.crossings, 1, 2)).toBeLessThan(0.005);
    // Neighbours differ by 2/60 of the drift, 0.0067; a normal sd of such differences is 1.48/1.41 times that.
    const drifting = blinking(
      steady.map((level, i) => level + 0.2 * (i / plateaus)),
      0,
      draw,
    );
    expect(levelScatter(drifting.signal, drifting.crossings, 1, 2)).toBeLessThan(0.0075);
    const short = blinking([0, 1, 0.1], 0, draw);
    expect(levelScatter(short.signal, short.crossings, 1, 2)).toBe(0);
  });
});
