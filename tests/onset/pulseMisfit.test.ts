/**
 * The misfit of a lattice as still pictures show it, on light made here: flashes that a shutter cuts, under a tone curve
 * that the lattice does not know.
 */
import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { misfitSeen, supposedMisfit } from '../../src/onset/pulseMisfit.js';
import { bandStates, firstPulse } from '../../src/onset/pulseStates.js';
import type { Band } from '../../src/onset/windows.js';

const PERIOD_S = 1 / 240;
const BANDS = 4;
const FRAMES = 240;
const CHANGE = 120;
// Five flashes in sixteen frames: each meets the shutter at a phase of its own, and one of the five falls behind it.
const train = {
  phaseT: 0.93,
  slopeT: 0,
  decayT: 0.1,
  periodT: 3.2,
  exposure: 0.6,
  exposureSd: 0.01,
  residual: 1e-5,
  tolerance: 3e-4,
  isLocked: false,
  misfit: 0,
  draws: [],
};
const region = { topPx: 20, heightPx: 80 };
const spans = { dim: [[2, CHANGE - 12] as const], bright: [[CHANGE + 12, FRAMES - 2] as const] };

/** Share of a flash in an exposure that opens at `openT`: the overlap of two intervals. */
function caught(openT: number): number {
  const lengthT = 3 * train.decayT;
  let sum = 0;
  for (let n = Math.floor((openT - 2) / train.periodT); n <= (openT + 2) / train.periodT; n++) {
    const start = train.phaseT + n * train.periodT;
    sum += Math.max(0, Math.min(openT + train.exposure, start + lengthT) - Math.max(openT, start)) / lengthT;
  }
  return sum;
}

/**
 * @param dim light of the first picture's flashes; the second one's are `dim + 1`.
 * @param bend of the tone curve: half a flash reads `0.5 + bend / 4`.
 * @param first frame whose flash, and those after it, are the second picture's.
 */
function film(dim: number, bend: number, noise: number, first = CHANGE): Band[] {
  const random = seededRandom(5);
  return Array.from({ length: BANDS }, (_, b) => {
    const shift = 0.03 * b;
    const signal = Float64Array.from({ length: FRAMES }, (_, k) => {
      const g = caught(k + shift);
      const light = k >= first ? dim + 1 : dim;
      return light * (g + bend * g * (1 - g)) + random.normal(0, noise);
    });
    const openS = Float64Array.from({ length: FRAMES }, (_, k) => (k + shift) * PERIOD_S);
    return { signal, openS, from: b / BANDS, extent: 1 / BANDS };
  });
}

const statesOf = (parts: readonly Band[]) => bandStates({ ...region, parts }, train, spans, PERIOD_S);

describe('misfit of a lattice', () => {
  const known = (parts: readonly Band[]) =>
    parts.map((band) => ({ band, light: (k: number) => caught(band.openS[k]! / PERIOD_S) }));
  const all = [...spans.dim, ...spans.bright];
  const halfCaught = (g: number) => 4 * g * (1 - g);

  it('is the error that the light was made with', () => {
    // A bend of 0.2 is 0.05 of a flash at its half; each span's brightness takes up a part of it.
    const seen = misfitSeen(known(film(8, 0.2, 0.002)), all, halfCaught);
    expect(seen).toBeGreaterThan(0.03);
    expect(seen).toBeLessThan(0.055);
  });

  it('does not take noise for a misfit', () => {
    const noisy = misfitSeen(known(film(8, 0, 0.3)), all, halfCaught);
    expect(noisy).toBeLessThan(0.3 / 8);
    expect(misfitSeen(known(film(8, 0, 0)), all, halfCaught)).toBeLessThan(1e-6);
  });

  it('goes with the light, and never far below what is supposed of the step', () => {
    const supposed = supposedMisfit(train, BANDS).together(0.5);
    const [dark] = statesOf(film(0, 0.2, 0.002));
    expect(dark!.misfit(0.5)).toBeCloseTo(supposed, 1);
    const [grey] = statesOf(film(8, 0.2, 0.002));
    const [good] = statesOf(film(8, 0, 0.002));
    expect(grey!.misfit(0.5)).toBeGreaterThan(3 * supposed);
    expect(good!.misfit(0.5)).toBeLessThan(1.1 * supposed);
  });
});

describe('pictures that differ little', () => {
  // Frames that catch a flash in part, just before the picture changes and just after.
  const chanceOfTruth = (bend: number) => {
    let worst = 1;
    for (let first = CHANGE - 8; first < CHANGE + 8; first++) {
      const states = statesOf(film(8, bend, 0.01, first));
      const { chances } = firstPulse(states, train, true, [90, 150], [30, 46], PERIOD_S);
      // Flashes of the frames from `first` on are of the second picture.
      const truth = Math.ceil((first - train.phaseT - 3 * train.decayT) / train.periodT);
      worst = Math.min(worst, chances.find((c) => c.pulse === truth)?.chance ?? 0);
    }
    return worst;
  };

  it('are told apart where the lattice fits, and are not where a tone curve bends its light by more than the step', () => {
    expect(chanceOfTruth(0)).toBeGreaterThan(0.3);
    expect(chanceOfTruth(0.5)).toBeGreaterThan(0.02);
  });
});
