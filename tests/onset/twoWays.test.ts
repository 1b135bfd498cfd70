/** A menu whose highlight moves: some rows get brighter as others get darker, and a panel is not as fast both ways. */
import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { screenOnsets } from '../../src/onset/screenOnsets.js';
import { findScreenTimes } from '../../src/onset/screenTimes.js';
import { rowTrace } from './rowTrace.js';
import { exactShare } from './syntheticEdges.js';

const PERIOD_S = 1 / 240;
const EXPOSURE = 0.9;
const ROWS = 8;
const CHANGES = 12;
const APART = 90;
/** Time constants to more and to less light, capture periods. */
const RISE_T = 3;
const FALL_T = 0.8;

/** When the light has gone a tenth of its way, after the change began: half of it rises, half falls (bisection). */
function tenthT(): number {
  let [low, high] = [0, 10];
  for (let i = 0; i < 50; i++) {
    const t = (low + high) / 2;
    const share = 0.5 * (1 - Math.exp(-t / RISE_T)) + 0.5 * (1 - Math.exp(-t / FALL_T));
    if (share < 0.1) low = t;
    else high = t;
  }
  return low;
}

describe('a change that goes two ways', () => {
  it('is timed by the form of each way', () => {
    const random = seededRandom(5);
    const stepsT = Array.from({ length: CHANGES }, (_, i) => (i + 1) * APART + random.uniform(0, APART / 2));
    const frames = (CHANGES + 1) * APART;
    const light = new Float32Array(frames * ROWS);
    for (let k = 0; k < frames; k++) {
      for (let row = 0; row < ROWS; row++) {
        // The upper item is lit before the first change, the lower one after it, and so on.
        let value = row < ROWS / 2 ? 1 : 0;
        stepsT.forEach((stepT, i) => {
          const brightens = row < ROWS / 2 === (i % 2 === 1);
          value += (brightens ? 1 : -1) * exactShare(k, stepT, EXPOSURE, brightens ? RISE_T : FALL_T);
        });
        light[k * ROWS + row] = 0.1 + 0.5 * value + random.normal(0, 0.002);
      }
    }
    const times = findScreenTimes([rowTrace(light, ROWS, PERIOD_S, 0.002)], {
      exposureFraction: EXPOSURE,
      exposureSd: 0.02,
      refreshHz: 60,
      pictureHeightPx: ROWS,
    });
    const [set] = screenOnsets(times, 0.1);
    const errorsT = stepsT.map((stepT) => {
      const off = set!.onsets.map((o) => o.levelS / PERIOD_S - stepT - tenthT());
      return off.reduce((a, b) => (Math.abs(b) < Math.abs(a) ? b : a));
    });
    expect(Math.max(...errorsT.map(Math.abs))).toBeLessThan(0.1);
    expect(set!.shapes.rise.tauT).toBeGreaterThan(2.5);
    expect(set!.shapes.rise.tauT).toBeLessThan(3.5);
    expect(set!.shapes.fall.tauT).toBeGreaterThan(0.4);
    expect(set!.shapes.fall.tauT).toBeLessThan(1.2);
    // A menu moves its highlight this way and that.
    expect(new Set(set!.onsets.map((o) => o.sign)).size).toBe(2);
  });
});
