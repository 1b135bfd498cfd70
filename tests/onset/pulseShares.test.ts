/**
 * Shares of the new picture that a strobed backlight's flashes show, on light made here from the definition: cells that
 * approach their new state exponentially, a backlight that shines for a part of each refresh, a shutter that is open for a
 * part of each frame; integrated in plain small steps.
 */
import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { flashesPassing, sharesOf } from '../../src/onset/countFlashes.js';
import { firstOf } from '../../src/onset/pulsedChange.js';
import { isSettling, LEAD, pulseShares, shareAt, supposedShares } from '../../src/onset/pulseShares.js';
import { bandStates, firstPulse, unseenSpans } from '../../src/onset/pulseStates.js';
import type { Band } from '../../src/onset/windows.js';

const PERIOD_S = 1 / 240;
const BANDS = 4;
const FRAMES = 400;
const strobe = { phaseT: 1.2, slopeT: 0, decayT: 0.1, periodT: 4.004, exposure: 0.8 };
const train = {
  ...strobe,
  exposureSd: 0.01,
  residual: 1e-5,
  tolerance: 3e-4,
  isLocked: false,
  misfit: 0,
  draws: [],
};
const TAU_T = 3;
const CHANGES = [40, 80, 120, 160, 200, 240, 280, 320].map((frame, i) => ({
  // Changes begin a little before a flash, as displays draw before they flash.
  atT: strobe.phaseT + Math.round(frame / strobe.periodT) * strobe.periodT - 0.9,
  rising: i % 2 === 0,
}));

/** What the cells let through at a time. */
function cellsAt(t: number): number {
  let state = 0.05;
  for (const [i, { atT, rising }] of CHANGES.entries()) {
    const end = CHANGES[i + 1]?.atT ?? Number.POSITIVE_INFINITY;
    if (t < atT) break;
    const target = rising ? 1 : 0.05;
    state = target + (state - target) * Math.exp(-(Math.min(t, end) - atT) / TAU_T);
  }
  return state;
}

/** Mean of the cells over a flash: what the response is by definition. */
function flashMean(pulse: number): number {
  const from = strobe.phaseT + pulse * strobe.periodT;
  let sum = 0;
  for (let i = 0; i < 200; i++) sum += cellsAt(from + ((i + 0.5) / 200) * 3 * strobe.decayT) / 200;
  return sum;
}

function film(exposure: number): Band[] {
  const random = seededRandom(11);
  return Array.from({ length: BANDS }, (_, b) => {
    const shift = 0.1 * b;
    const signal = Float64Array.from({ length: FRAMES }, (_, k) => {
      let sum = 0;
      for (let i = 0; i < 400; i++) {
        const t = k + shift + ((i + 0.5) / 400) * exposure;
        const turns = (t - strobe.phaseT) / strobe.periodT;
        if ((turns - Math.floor(turns)) * strobe.periodT < 3 * strobe.decayT) sum += cellsAt(t);
      }
      return (sum * exposure) / 400 / (3 * strobe.decayT) + random.normal(0, 0.002);
    });
    const openS = Float64Array.from({ length: FRAMES }, (_, k) => (k + shift) * PERIOD_S);
    return { signal, openS, from: b / BANDS, extent: 1 / BANDS };
  });
}

const spans = (rising: boolean) =>
  CHANGES.flatMap(({ atT, rising: own }, i) =>
    own === rising ? [[Math.ceil(atT) + 20, Math.floor(CHANGES[i + 1]?.atT ?? FRAMES) - 2] as const] : [],
  );
const region = { topPx: 20, heightPx: 80 };
const lines = Array.from({ length: 8 }, (_, i) => ({ from: i / 8, extent: 1 / 8, weight: 1 / 8 }));
const firstPulseOf = (atT: number) => Math.ceil((atT - strobe.phaseT) / strobe.periodT);

describe('shares of a strobed picture', () => {
  const states = bandStates(
    { ...region, parts: film(strobe.exposure) },
    train,
    { dim: spans(false), bright: spans(true) },
    PERIOD_S,
  );
  const rises = CHANGES.filter((c) => c.rising);
  const counted = rises.map(({ atT }) => ({
    pulse: firstPulseOf(atT),
    chance: 1,
    frames: [Math.floor(atT) - 15, Math.floor(atT) + 35] as const,
  }));
  const shares = pulseShares(states, train, counted, true, lines, PERIOD_S);

  it('are the cells in the midst of each flash', () => {
    const pulse = counted[0]!.pulse;
    const share = (n: number) => (flashMean(n) - 0.05) / 0.95;
    for (let j = 0; j < 4; j++) expect(shares.ofRegion[j + LEAD]).toBeCloseTo(share(pulse + j), 1);
    expect(shares.ofRegion[LEAD]!).toBeGreaterThan(0.2);
    expect(shares.ofRegion[LEAD]!).toBeLessThan(0.45);
    expect(shares.ofRegion[LEAD - 1]!).toBeLessThan(0.02);
    expect(isSettling(shares)).toBe(true);
    // Once a flash shows all of the picture, those after it do.
    const settled = shares.ofRegion.findIndex((v, i) => i >= LEAD && v > 0.99);
    expect([...shares.ofRegion.slice(settled + 1)].every((v) => v === 1)).toBe(true);
  });

  it('place each change at its first flash, where a picture drawn at once would be placed a flash later', () => {
    const best = (shareOf?: (b: number, j: number) => number) =>
      counted.map(({ pulse, frames }) => {
        const { chances } = firstPulse(
          states,
          train,
          true,
          frames,
          [pulse - 3, pulse + 3],
          PERIOD_S,
          shareOf,
        );
        return chances.reduce((a, b) => (b.chance > a.chance ? b : a)).pulse - pulse;
      });
    expect(best((b, j) => shareAt(shares.ofBand[b]!, j))).toEqual(counted.map(() => 0));
    expect(best()).toEqual(counted.map(() => 1));
  });

  it('two changes that were counted from different flashes are counted alike in the end', () => {
    const [one, other] = counted;
    const change = ({ pulse, frames }: (typeof counted)[number]) => ({
      crossing: { frame: Math.round(strobe.phaseT + pulse * strobe.periodT), sign: 1 as const },
      frames,
      pulses: [pulse - 3, pulse + 3] as const,
      within: frames,
    });
    const changes = [change(one!), change(other!)];
    const { rise } = sharesOf(changes, states, train, lines, PERIOD_S);
    const passing = changes.map((c, i) => {
      const { chances } = firstOf(c, states, train, rise, PERIOD_S);
      const passes = flashesPassing(chances, rise, 0.1);
      return passes.reduce((a, b) => (b.chance > a.chance ? b : a)).pulse - [one, other][i]!.pulse;
    });
    expect(passing).toEqual([0, 0]);
  });

  it('of a single change are not measured but supposed, with the first one widely open', () => {
    const { pulse, frames } = counted[0]!;
    const only = {
      crossing: { frame: Math.floor(frames[0] + 15), sign: 1 as const },
      frames,
      within: frames,
    };
    const { rise } = sharesOf([{ ...only, pulses: [pulse - 3, pulse + 3] }], states, train, lines, PERIOD_S);
    expect(rise.sd[LEAD]!).toBeGreaterThan(0.2);
    expect(rise.ofRegion[LEAD - 1]).toBe(0);
    expect(rise.ofRegion[LEAD + 1]).toBe(1);
  });

  it('are known the less the more the frames scatter, as coefficients of a linear fit are', () => {
    // Least squares: the variance of a coefficient is that of a frame times the inverse normal matrix's diagonal element
    // (JCGM 100:2008, H.3, for two of them). Frames catch a flash whole or not at all here, so that the matrix is diagonal.
    const noisy = states.map((s) => ({ ...s, variance: 0.04 * (s.bright - s.dim) ** 2 }));
    const { sd } = pulseShares(noisy, train, counted, true, lines, PERIOD_S);
    const caught = noisy.reduce((sum, { band, startT, come }) => {
      return (
        sum +
        counted.reduce((own, { pulse, frames }) => {
          for (let k = frames[0]; k < frames[1]; k++) {
            const since = band.openS[k]! / PERIOD_S - startT - pulse * strobe.periodT;
            own += (come(since + strobe.exposure) - come(since)) ** 2;
          }
          return own;
        }, 0)
      );
    }, 0);
    expect(sd[LEAD]!).toBeGreaterThan((0.9 * 0.2) / Math.sqrt(caught));
    expect(sd[LEAD]!).toBeGreaterThan(1.3 * shares.sd[LEAD]!);
  });

  it('of a picture that comes at once show no settling', () => {
    expect(isSettling(supposedShares(BANDS, 1))).toBe(false);
  });

  it('a shutter open all the while misses no flash; one open for a tenth says which it misses', () => {
    expect(unseenSpans(states, train, PERIOD_S)).toEqual([]);
    const short = { ...train, exposure: 0.1 };
    const parts = film(0.1).map((band) => ({ ...band, signal: band.signal }));
    const seldom = bandStates(
      { ...region, parts },
      short,
      { dim: spans(false), bright: spans(true) },
      PERIOD_S,
    );
    const away = unseenSpans(seldom, short, PERIOD_S);
    expect(away.length).toBeGreaterThan(0);
    // In none of these spans does a band's shutter meet a flash for more than a third of what it can.
    for (const [from, to] of away) {
      for (let n = Math.ceil((from / PERIOD_S - strobe.phaseT) / strobe.periodT) + 1; ; n++) {
        const start = strobe.phaseT + n * strobe.periodT;
        if ((start + strobe.periodT) * PERIOD_S >= to) break;
        for (let b = 0; b < BANDS; b++) {
          const phase = start - 0.1 * b - Math.floor(start - 0.1 * b);
          const met = Math.max(0, Math.min(0.1, phase + 0.3) - phase) + Math.max(0, phase + 0.3 - 1);
          expect(Math.min(0.1, met)).toBeLessThan(0.09);
        }
      }
    }
  });
});
