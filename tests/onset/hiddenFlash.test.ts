/**
 * Flashes that fall behind the closed shutter each time, on light made here from the definition: overlaps of intervals,
 * bent by a tone curve that the lattice does not know.
 */
import { describe, expect, it } from 'vitest';
import { sharesOf } from '../../src/onset/countFlashes.js';
import { flashesOf } from '../../src/onset/gateTrain.js';
import { firstOf } from '../../src/onset/pulsedChange.js';
import { LEAD } from '../../src/onset/pulseShares.js';
import { bandStates } from '../../src/onset/pulseStates.js';
import type { Band } from '../../src/onset/windows.js';

const PERIOD_S = 1 / 240;
const BANDS = 4;
const FRAMES = 500;
// Five flashes in 24 frames, at a fifth of a frame from one to the next: 50 Hz at 240 frames a second.
const PERIOD_T = 4.8;
const PHASE_T = 0.55;
const LENGTH_T = 0.35;
const EXPOSURE = 0.4;
const gate = {
  startT: PHASE_T,
  periodT: PERIOD_T,
  duty: LENGTH_T / PERIOD_T,
  exposure: EXPOSURE,
  exposureSd: 0.01,
  residual: 7e-5,
  startSdT: 0.02,
};
const train = flashesOf(gate, { exposure: EXPOSURE, exposureSd: 0.02 });

/** Share of flash `n` that an exposure catches which opens at `openT`. */
function caught(openT: number, n: number): number {
  const start = PHASE_T + n * PERIOD_T;
  const both = Math.min(openT + EXPOSURE, start + LENGTH_T) - Math.max(openT, start);
  return Math.max(0, both) / LENGTH_T;
}

const isHidden = (n: number) =>
  Array.from({ length: FRAMES }, (_, k) => caught(k, n) + caught(k + 0.01 * (BANDS - 1), n)).every(
    (g) => g === 0,
  );
// First flashes of a new picture, brighter and darker in turns; every fifth flash is hidden.
const FIRST = [12, 21, 30, 39, 48, 57, 66, 75, 84, 93];
const brightAt = (n: number) => FIRST.filter((f) => f <= n).length % 2 === 1;

const parts = Array.from({ length: BANDS }, (_, b): Band => {
  const shift = 0.01 * b;
  const signal = Float64Array.from({ length: FRAMES }, (_, k) => {
    const near = Math.round((k - PHASE_T) / PERIOD_T);
    let light = 0;
    for (let n = near - 1; n <= near + 1; n++) {
      const g = caught(k + shift, n);
      light += (brightAt(n) ? 1.1 : 0.1) * (g + 0.4 * g * (1 - g));
    }
    return light;
  });
  const openS = Float64Array.from({ length: FRAMES }, (_, k) => (k + shift) * PERIOD_S);
  return { signal, openS, from: b / BANDS, extent: 1 / BANDS };
});

const frameOf = (n: number) => Math.floor(PHASE_T + n * PERIOD_T);
const spans = (bright: boolean) =>
  FIRST.flatMap((n, i) =>
    brightAt(n) === bright
      ? [[frameOf(n) + 8, Math.min(FRAMES, frameOf(FIRST[i + 1] ?? 110) - 8)] as const]
      : [],
  );
const lines = Array.from({ length: BANDS }, (_, b) => ({
  from: b / BANDS,
  extent: 1 / BANDS,
  weight: 1 / BANDS,
}));

describe('flashes behind the closed shutter', () => {
  const states = bandStates(
    { topPx: 20, heightPx: 80, parts },
    train,
    { dim: spans(false), bright: spans(true) },
    PERIOD_S,
  );
  const changes = FIRST.map((n) => ({
    crossing: { frame: frameOf(n), sign: brightAt(n) ? (1 as const) : (-1 as const) },
    frames: [frameOf(n) - 25, frameOf(n) + 25] as const,
    pulses: [n - 4, n + 4] as const,
    within: [frameOf(n) - 25, frameOf(n) + 25] as const,
  }));
  const { rise, fall } = sharesOf(changes, states, train, lines, PERIOD_S);
  const chanceOf = (i: number, pulse: number) => {
    const shares = changes[i]!.crossing.sign > 0 ? rise : fall;
    // Flashes are counted from any one before all of the new picture shows.
    const first = shares.ofRegion.findIndex((s) => s > 0.5) - LEAD;
    const { chances } = firstOf(changes[i]!, states, train, shares, PERIOD_S);
    return chances.find((c) => c.pulse + first === pulse)?.chance ?? 0;
  };

  it('share their chance with the flash after them, however the light bends', () => {
    const hidden = FIRST.map((n, i) => ({ n, i })).filter(({ n }) => isHidden(n) || isHidden(n - 1));
    expect(hidden.length).toBeGreaterThan(2);
    for (const { n, i } of hidden) {
      const other = isHidden(n) ? n + 1 : n - 1;
      expect(chanceOf(i, n)).toBeGreaterThan(0.4);
      expect(chanceOf(i, other)).toBeGreaterThan(0.4);
    }
  });

  it('show nothing of a picture before its first light, where a bent curve would read as some', () => {
    for (const { ofBand, ofRegion } of [rise, fall]) {
      const first = ofRegion.findIndex((share) => share > 0.5);
      expect(first).toBeGreaterThan(0);
      for (const row of ofBand) expect([...row.slice(0, first)].every((share) => share === 0)).toBe(true);
    }
  });

  it('leave the others beyond doubt', () => {
    const seen = FIRST.map((n, i) => ({ n, i })).filter(({ n }) => !isHidden(n) && !isHidden(n - 1));
    expect(seen.length).toBeGreaterThan(2);
    for (const { n, i } of seen) expect(chanceOf(i, n)).toBeGreaterThan(0.99);
  });
});

describe('a gate that opens once a refresh', () => {
  const startsOf = (exposure: number) =>
    flashesOf(gate, { exposure, exposureSd: 0.05 }).draws.map((d) => d.phaseT - PHASE_T);

  it('is a lattice of flashes that starts when it opens, as well as that is known', () => {
    expect(train.phaseT).toBe(PHASE_T);
    expect(3 * train.decayT).toBeCloseTo(LENGTH_T, 9);
    for (const start of startsOf(EXPOSURE + 0.5)) expect(Math.abs(start)).toBeCloseTo(gate.startSdT, 9);
  });

  it('may have shutter and flash the other way round where the shutter is not known to tell', () => {
    // Then the flash lasts as long as the shutter was taken to be open, and starts earlier by the difference.
    const swapped = startsOf((EXPOSURE + LENGTH_T) / 2).filter((s) => s < -gate.startSdT - 1e-9);
    expect(swapped.length).toBeGreaterThan(40);
    for (const start of swapped) {
      expect(Math.abs(start - (LENGTH_T - EXPOSURE))).toBeCloseTo(gate.startSdT, 9);
    }
  });
});
