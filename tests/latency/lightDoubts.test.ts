import { describe, expect, it } from 'vitest';
import { lightDoubts, type TimedLight } from '../../src/latency/lightDoubts.js';

const clear = { saturated: false };
const timed = (light: TimedLight['light'], tauT = 0, sweepT = 0): TimedLight => ({
  light,
  shapes: { rise: { tauT, sweepT } },
});
const doubts = (of: TimedLight, exposure: number) => lightDoubts(clear, clear, of, exposure, null);

describe('what light that does not read as it is moves a latency by', () => {
  // Check-values 1.4: a partly lit edge errs by de (1 - f) T with f uniform: sd 1 / sqrt 12 of it an edge.
  it('an exposure that is not known moves two instant edges, or the LED alone', () => {
    expect(doubts(timed('held'), 0.7).perExposure).toBeCloseTo(Math.sqrt(2 / 12), 12);
    expect(doubts(timed('pulsed'), 0.7).perExposure).toBeCloseTo(Math.sqrt(1 / 12), 12);
    // Cells or rows that take many frames are placed by all of them.
    expect(doubts(timed('held', 8), 0.3).perExposure).toBeCloseTo(Math.sqrt(1 / 12), 3);
    expect(doubts(timed('held', 0, -8), 0.3).perExposure).toBeCloseTo(Math.sqrt(1 / 12), 3);
  });

  it('a tone curve bends the LED alone where the screen shines in pulses, by a share of the exposure', () => {
    const long = doubts(timed('pulsed'), 0.8);
    const short = doubts(timed('pulsed'), 0.2);
    expect(long.toneOfLedAlone && short.toneOfLedAlone).toBe(true);
    expect(long.toneCurveT).toBeCloseTo(4 * short.toneCurveT, 12);
    expect(doubts(timed('held'), 0.2).toneOfLedAlone).toBe(false);
    // One that was measured leaves less.
    expect(lightDoubts(clear, clear, timed('pulsed'), 0.8, { sd: 0.05 }).toneCurveT).toBeLessThan(0.03);
  });
});
