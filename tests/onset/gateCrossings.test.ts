/** Where a picture behind a gate changed, and where it could not be seen, on light summed here in small steps of time. */
import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { gateCrossings } from '../../src/onset/gateCrossings.js';
import { unlitSpans } from '../../src/onset/gatedWindows.js';

const PERIOD_S = 1 / 240;
const FRAMES = 400;
// Half of each refresh at 165 Hz is dark.
const GATE = {
  startT: 0.3,
  periodT: 240 / 165,
  duty: 0.5,
  exposure: 0.5,
  exposureSd: 0.03,
  residual: 1e-3,
  startSdT: 0,
};
/** Flashes of twelve camera frames: when each begins and ends, capture periods. */
const FLASHES = [60.2, 150.7, 301.4].map((t) => [t, t + 12.1] as const);

const brightness = (t: number) => (FLASHES.some(([from, to]) => t >= from && t < to) ? 1 : 0.1);

function lightOf(frame: number): number {
  const steps = 400;
  let sum = 0;
  for (let i = 0; i < steps; i++) {
    const t = frame + ((i + 0.5) / steps) * GATE.exposure;
    const turns = (t - GATE.startT) / GATE.periodT;
    if (turns - Math.floor(turns) < GATE.duty) sum += brightness(t) / steps;
  }
  return sum;
}

describe('changes behind a gate', () => {
  const random = seededRandom(3);
  const signal = Float64Array.from({ length: FRAMES }, (_, k) => lightOf(k) + random.normal(0, 0.004));
  const openS = Float64Array.from({ length: FRAMES }, (_, k) => k * PERIOD_S);

  it('are found to a frame or two, though half of the frames are dark', () => {
    const found = gateCrossings([{ signal, openS, from: 0, extent: 1 }], GATE, PERIOD_S)!;
    const wanted = FLASHES.flatMap(([from, to]) => [
      { atT: from, sign: 1 },
      { atT: to, sign: -1 },
    ]);
    expect(found.map((c) => c.sign)).toEqual(wanted.map((w) => w.sign));
    found.forEach((c, i) => {
      expect(Math.abs(c.frame - wanted[i]!.atT)).toBeLessThan(2);
    });
  });

  it('are not seen where the light is away for longer than its rhythm tells', () => {
    const band = { signal, openS, from: 0, extent: 1 };
    expect(unlitSpans(band, PERIOD_S, GATE)).toEqual([]);
    // 1.007 turns a frame: the light goes away once in 143 frames, for the part of a turn that neither the light's half
    // nor the exposure covers, and where less than 0.3 of the most is caught of its ends.
    const slow = { ...GATE, periodT: 1 / 1.007, exposure: 0.1 };
    const spans = unlitSpans(band, PERIOD_S, slow);
    expect(spans.length).toBeGreaterThanOrEqual(2);
    const whole = spans.slice(1, -1).map(([from, to]) => (to - from) / PERIOD_S);
    const away = (1 - slow.duty - slow.exposure + 2 * 0.3 * slow.exposure) / 0.007;
    for (const length of whole) expect(Math.abs(length - away)).toBeLessThan(4);
  });

  it('are not made up where there is one brightness only', () => {
    const still = signal.map((_, k) => (lightOf(k) > 0 ? 0.2 : 0) * random.uniform(0.5, 1));
    expect(gateCrossings([{ signal: still, openS, from: 0, extent: 1 }], GATE, PERIOD_S)).toBeNull();
  });
});
