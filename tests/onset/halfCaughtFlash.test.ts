/**
 * A flash of which a frame caught a tenth: it shows which picture it is of, as a tenth of a dark one is dark. Light made here
 * from the definition: a backlight that shines for a part of each refresh, a shutter that is open for a part of each frame.
 */
import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { bandStates, firstPulse } from '../../src/onset/pulseStates.js';

const PERIOD_S = 1 / 240;
const FRAMES = 60;
const PERIOD_T = 5 / 3;
const FLASH_T = 0.18;
const EXPOSURE = 0.5;
const DARK = 0.05;
// Pulse 18 begins 30 periods after the first one: frame 30 is open until 30.5 and meets a tenth of it.
const PHASE_T = 0.482;
const HALF_CAUGHT = 18;

function film(firstNew: number) {
  const random = seededRandom(31);
  return Array.from({ length: 2 }, (_, b) => {
    const signal = Float64Array.from({ length: FRAMES }, (_, k) => {
      let sum = 0;
      for (let n = -1; n < 40; n++) {
        const from = PHASE_T + n * PERIOD_T;
        const caught = Math.max(0, Math.min(k + EXPOSURE, from + FLASH_T) - Math.max(k, from)) / FLASH_T;
        sum += caught * (n < firstNew ? DARK : 1);
      }
      return sum + random.normal(0, 0.002);
    });
    const openS = Float64Array.from({ length: FRAMES }, (_, k) => k * PERIOD_S);
    return { signal, openS, from: b / 2, extent: 1 / 2 };
  });
}

/** The chances of each pulse, by a train of the right form that is known to leave a little of the light. */
function chances(firstNew: number) {
  const form = { phaseT: PHASE_T, slopeT: 0, decayT: FLASH_T / 3, periodT: PERIOD_T, exposure: EXPOSURE };
  const train = { ...form, exposureSd: 0.1, residual: 3.5e-3, tolerance: 5e-3, isLocked: true, draws: [] };
  const spans = { dim: [[0, 25] as const], bright: [[36, FRAMES] as const] };
  const states = bandStates({ topPx: 0, heightPx: 40, parts: film(firstNew) }, train, spans, PERIOD_S);
  return firstPulse(states, train, true, [22, 40], [15, 21], PERIOD_S).chances;
}

describe('a flash that was caught by a tenth', () => {
  it.each([
    { firstNew: HALF_CAUGHT, isNew: 1 },
    { firstNew: HALF_CAUGHT + 1, isNew: 0 },
  ])(
    'is of the new picture with chance $isNew, where pulse $firstNew is the first of it',
    ({ firstNew, isNew }) => {
      // No frame met the pulse before it, so that the new picture may have come with that one as well.
      const shown = chances(firstNew).filter((c) => c.pulse <= HALF_CAUGHT);
      const chance = shown.reduce((sum, c) => sum + c.chance, 0);
      expect(Math.abs(chance - isNew)).toBeLessThan(0.01);
    },
  );
});
