/**
 * A tube's lattice and the first pulse of a new picture, on light made here from the definition: a beam that passes the
 * rows one after the other, phosphor that dies away, a shutter that is open for part of each frame.
 */
import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { bandStates, firstPulse } from '../../src/onset/pulseStates.js';
import { fitPulseTrain } from '../../src/onset/pulseTrain.js';
import type { Band } from '../../src/onset/windows.js';

const PERIOD_S = 1 / 240;
const TOP_PX = 20;
const HEIGHT_PX = 100;
const BANDS = 8;
const ROWS = 12;

interface Tube {
  readonly refreshHz: number;
  readonly exposure: number;
  readonly decayT: number;
  readonly phaseT: number;
  readonly slopeT: number;
  /** Height of the region, px; else `HEIGHT_PX`. */
  readonly heightPx?: number;
}

/** Light of each band: sums over rows and pulses of exp(-t/decay) between opening and closing of the shutter. */
function light(tube: Tube, frames: number, energyOf: (pulse: number) => number, noise: number): Band[] {
  const random = seededRandom(7);
  const periodT = 1 / (tube.refreshHz * PERIOD_S);
  return Array.from({ length: BANDS }, (_, b) => {
    const signal = new Float64Array(frames);
    for (let k = 0; k < frames; k++) {
      for (let r = 0; r < ROWS; r++) {
        const y = TOP_PX + ((tube.heightPx ?? HEIGHT_PX) * (b + (r + 0.5) / ROWS)) / BANDS;
        const first = tube.phaseT + tube.slopeT * y;
        const last = Math.floor((k + tube.exposure - first) / periodT);
        for (let n = last - 3; n <= last; n++) {
          const since = k - first - n * periodT;
          const left = (t: number) => Math.exp(-Math.max(0, t) / tube.decayT);
          signal[k]! += (energyOf(n) * (left(since) - left(since + tube.exposure))) / ROWS;
        }
      }
      signal[k]! += random.normal(0, noise);
    }
    const openS = Float64Array.from({ length: frames }, (_, k) => k * PERIOD_S);
    return { signal, openS, from: b / BANDS, extent: 1 / BANDS };
  });
}

const still = (frames: number) => Array.from({ length: frames }, (_, k) => k);
const region = { topPx: TOP_PX, heightPx: HEIGHT_PX };
const search = { periodS: PERIOD_S, exposure: 0.7, exposureSd: 0.12, statedHz: 60 };
const FULL = (0.95 * 4) / 180;
const slopesT = [-1.4, 0, 1.1, 1.6, 2.3].map((f) => f * FULL);
const TUBES: readonly Tube[] = [
  { refreshHz: 59.94, exposure: 0.55, decayT: 0.1, phaseT: 1.3, slopeT: 1.4 * FULL },
  { refreshHz: 60.0988, exposure: 0.85, decayT: 0.2, phaseT: 2.2, slopeT: 1.9 * FULL },
  // A screen that fills a third of the picture's height.
  { refreshHz: 59.94, exposure: 0.6, decayT: 0.2, phaseT: 0.9, slopeT: 2.9 * FULL, heightPx: 50 },
];

describe('lattice of a tube', () => {
  it.each(TUBES)('$refreshHz Hz, exposure $exposure: phase, slope, decay and exposure come back', (tube) => {
    const parts = light(tube, 700, () => 1, 0.004);
    const heightPx = tube.heightPx ?? HEIGHT_PX;
    const train = fitPulseTrain([{ topPx: TOP_PX, heightPx, parts, stillFrames: still(700) }], {
      ...search,
      slopesT,
    })!;
    const periodT = 1 / (tube.refreshHz * PERIOD_S);
    const centre = TOP_PX + heightPx / 2;
    // Anchored in the middle of the clip, where the period's own error has not yet added up.
    const number = Math.round(350 / periodT);
    const at = (t: { phaseT: number; slopeT: number }, p: number) =>
      t.phaseT + t.slopeT * centre + number * p;
    const offT = at(train, train.periodT) - at(tube, periodT);
    expect(Math.abs(offT - Math.round(offT / periodT) * periodT)).toBeLessThan(0.02);
    expect(Math.abs(train.exposure - tube.exposure)).toBeLessThan(0.02);
    expect(Math.abs(train.slopeT / tube.slopeT - 1)).toBeLessThan(0.02);
    expect(Math.abs(train.decayT - tube.decayT)).toBeLessThan(0.02);
  });

  // Four frames to a refresh: every pulse meets the frames alike, and a steeper slope with a longer decay and a shorter
  // exposure looks nearly the same.
  it.each([
    { refreshHz: 60, exposure: 0.984, decayT: 0.104, phaseT: 3.62, slopeT: 1.77 * FULL, heightPx: 21 },
    { refreshHz: 60, exposure: 0.975, decayT: 0.15, phaseT: 3.62, slopeT: 1.6 * FULL, heightPx: 25 },
  ] as const)('locked to the frames, decay $decayT: the draws hold the truth', (tube) => {
    const parts = light(tube, 400, () => 1, 0.002);
    const train = fitPulseTrain(
      [{ topPx: TOP_PX, heightPx: tube.heightPx, parts, stillFrames: still(400) }],
      {
        ...search,
        exposure: 0.955,
        exposureSd: 0.057,
        slopesT: slopesT.filter((s) => s !== 0),
      },
    )!;
    // The time at which a pulse has passed a tenth of the region.
    const tenth = (t: { phaseT: number; slopeT: number }) =>
      t.phaseT + t.slopeT * (TOP_PX + tube.heightPx / 10);
    const offT = tenth(train) - tenth(tube);
    const errorT = offT - Math.round(offT / 4) * 4;
    const spread = train.draws.map((d) => (tenth(d) - tenth(train)) ** 2);
    const sdT = Math.sqrt(spread.reduce((a, b) => a + b, 0) / spread.length);
    expect(Math.abs(errorT)).toBeLessThan(2 * sdT);
    expect(sdT).toBeLessThan(0.25);
    expect(Math.abs(errorT)).toBeLessThan(0.2);
  });

  it('a refresh that is not told is found in a long clip, of which runs of frames far apart are looked at', () => {
    const tube = { refreshHz: 75, exposure: 0.9, decayT: 0.2, phaseT: 1.3, slopeT: 1.2 * FULL, heightPx: 40 };
    const parts = light(tube, 2400, () => 1, 0.002);
    const known = { ...search, exposure: 0.9, statedHz: null, slopesT: slopesT.filter((s) => s !== 0) };
    const train = fitPulseTrain([{ topPx: TOP_PX, heightPx: 40, parts, stillFrames: still(2400) }], known)!;
    expect(1 / (train.periodT * PERIOD_S)).toBeCloseTo(75, 3);
    expect(train.residual).toBeLessThan(1e-3);
  });

  it('light without pulses has no lattice', () => {
    const random = seededRandom(3);
    const parts = light(TUBES[0]!, 300, () => 0, 0).map((band) => ({
      ...band,
      signal: band.signal.map(() => 0.5 + random.normal(0, 0.004)),
    }));
    expect(fitPulseTrain([{ ...region, parts, stillFrames: still(300) }], { ...search, slopesT })).toBeNull();
  });
});

/** A backlight's flash: steady light for a part of each refresh, all rows at once, the sensor's rows one after the other. */
function flashes(lengthT: number, exposure: number, bend: number, hz = 59.94, phaseT = 1.7): Band[] {
  const random = seededRandom(9);
  const periodT = 1 / (hz * PERIOD_S);
  return Array.from({ length: BANDS }, (_, b) => {
    const shift = 0.04 * b;
    const signal = Float64Array.from({ length: 900 }, (_, k) => {
      const since = k + shift - phaseT;
      let caught = 0;
      for (let n = Math.floor(since / periodT); n <= Math.floor((since + exposure) / periodT); n++) {
        const start = n * periodT;
        caught += Math.max(0, Math.min(since + exposure, start + lengthT) - Math.max(since, start));
      }
      // A tone curve that is steeper for little light: (1 + bend) v / (1 + bend v).
      const v = (0.8 * caught) / Math.min(lengthT, exposure);
      return ((1 + bend) * v) / (1 + bend * v) + random.normal(0, 0.003);
    });
    const openS = Float64Array.from({ length: 900 }, (_, k) => (k + shift) * PERIOD_S);
    return { signal, openS, from: b / BANDS, extent: 1 / BANDS };
  });
}

describe('flashes of a strobed backlight', () => {
  const startOff = (train: { phaseT: number; periodT: number }) => {
    const periodT = 1 / (59.94 * PERIOD_S);
    const number = Math.round(450 / periodT);
    const off = train.phaseT + number * train.periodT - 1.7 - number * periodT;
    return off - Math.round(off / periodT) * periodT;
  };
  it.each([0, 1])('a tone curve bent by %d: start, length and exposure come back', (bend) => {
    const parts = flashes(0.33, 0.75, bend);
    const train = fitPulseTrain([{ ...region, parts, stillFrames: still(900) }], {
      ...search,
      slopesT: [0],
      statedHz: 59.94,
    })!;
    expect(train.slopeT).toBe(0);
    expect(Math.abs(startOff(train))).toBeLessThan(0.04);
    expect(Math.abs(3 * train.decayT - 0.33)).toBeLessThan(0.04);
    expect(Math.abs(train.exposure - 0.75)).toBeLessThan(0.04);
  });
  it('a flash about as long as the shutter is open: both ways round are counted, the truth is among them', () => {
    const parts = flashes(0.66, 0.76, 0);
    const train = fitPulseTrain([{ ...region, parts, stillFrames: still(900) }], {
      ...search,
      slopesT: [0],
      statedHz: 59.94,
    })!;
    // Seen through the shutter, the two lengths may change places, and the start moves by their difference.
    expect(train.exposureSd).toBeGreaterThan(0.03);
    expect(Math.abs(train.exposure - 0.76)).toBeLessThan(2 * train.exposureSd);
    const spread = train.draws.map((d) => Math.abs(startOff({ ...train, phaseT: d.phaseT })));
    expect(spread.filter((d) => d < 0.03).length).toBeGreaterThan(0.15 * spread.length);
    expect(spread.filter((d) => d > 0.07).length).toBeGreaterThan(0.15 * spread.length);
  });

  // Four frames to a refresh: all flashes meet the frames alike. The shutter closes on them, row by row a little later, so
  // that the first rows catch next to nothing.
  it.each([1.72, 2.02])(
    'locked to the frames, from %d on: a light that grows from row to row is cut by the shutter',
    (phaseT) => {
      const parts = flashes(0.33, 0.7, 0, 60, phaseT);
      const found = fitPulseTrain([{ ...region, parts, stillFrames: still(900) }], {
        ...search,
        slopesT: [0],
      })!;
      expect(found.isLocked).toBe(true);
      // A stated rate that the light does not contradict stays: no flash moves against the frames within the clip.
      expect(Math.abs(found.periodT - 4) * 225).toBeLessThan(0.01);
      const off = (t: { phaseT: number }) => t.phaseT - phaseT - 4 * Math.round((t.phaseT - phaseT) / 4);
      const spread = found.draws.map((d) => (d.phaseT - found.phaseT) ** 2);
      const sdT = Math.sqrt(spread.reduce((a, b) => a + b, 0) / spread.length);
      expect(Math.abs(off(found))).toBeLessThan(2 * sdT);
      expect(Math.abs(off(found))).toBeLessThan(0.1);
    },
  );
});

describe('first pulse of a new picture', () => {
  const tube = TUBES[0]!;
  const periodT = 1 / (tube.refreshHz * PERIOD_S);
  const train = {
    ...tube,
    periodT,
    exposureSd: 0.01,
    residual: 0,
    tolerance: 3e-4,
    isLocked: false,
    misfit: 0,
    draws: [],
  };
  const change = (pulse: number) => light(tube, 160, (n) => (n >= pulse ? 1 : 0.1), 0.004);

  it.each([18, 19, 20, 21])('pulse %d is found beyond doubt', (pulse) => {
    const parts = change(pulse);
    const spans = { dim: [[0, 60] as const], bright: [[100, 160] as const] };
    const states = bandStates({ ...region, parts }, train, spans, PERIOD_S);
    const { chances } = firstPulse(states, train, true, [60, 100], [15, 25], PERIOD_S);
    const best = chances.reduce((a, b) => (b.chance > a.chance ? b : a));
    expect(best.pulse).toBe(pulse);
    expect(best.chance).toBeGreaterThan(0.99);
  });

  it('a pulse that no frame caught shares its chance with the next one', () => {
    const parts = change(20);
    const spans = { dim: [[0, 60] as const], bright: [[100, 160] as const] };
    const states = bandStates({ ...region, parts }, train, spans, PERIOD_S);
    // The frames that would show pulse 20 are taken away; 19 is still old, 21 already new.
    const arrives = tube.phaseT + tube.slopeT * TOP_PX + 20 * periodT;
    const blind = states.map((s) => {
      const keep = Array.from(s.band.openS.keys()).filter(
        (k) => k < arrives - 1 || k > arrives + 0.98 * periodT,
      );
      return {
        ...s,
        band: {
          ...s.band,
          openS: Float64Array.from(keep, (k) => s.band.openS[k]!),
          signal: Float64Array.from(keep, (k) => s.band.signal[k]!),
        },
      };
    });
    const { chances } = firstPulse(blind, train, true, [60, 90], [15, 25], PERIOD_S);
    const of = (n: number) => chances.find((c) => c.pulse === n)?.chance ?? 0;
    expect(of(20) + of(21)).toBeGreaterThan(0.95);
    expect(Math.min(of(20), of(21))).toBeGreaterThan(0.1);
  });
});
