import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { blurShape, fitEdge } from '../../src/onset/edgeFit.js';
import type { EdgeWindow } from '../../src/onset/edgeWindow.js';
import { exactShare, syntheticEdge, windowOf } from './syntheticEdges.js';

const INSTANT = { tauT: 0, sweepT: 0 };
/** The second grid has 400 points over at most about 2 periods; two runs may place it differently. */
const GRID_T = 2.4 / 400;
/** Rounding only: the grids fall on the same places. */
const ROUNDING_T = 1e-6;

function posteriorOf(window: EdgeWindow, exposure: number, misfit = 0, tauT = 0) {
  const posterior = fitEdge(window, blurShape({ tauT, sweepT: 0 }, exposure), misfit);
  if (!posterior) throw new Error('no posterior');
  return posterior;
}

/** The posterior by brute force: every frame of the window, a wide even grid, both plateaus integrated out. */
function bruteForce(window: EdgeWindow, exposure: number, tauT: number): { mean: number; sd: number } {
  const { values, openT, varianceBefore } = window.channels[0]!;
  const times: number[] = [];
  const logs: number[] = [];
  for (let t = -3.5; t <= 2; t += 0.002) {
    let s00 = 0;
    let s01 = 0;
    let s11 = 0;
    let b0 = 0;
    let b1 = 0;
    values.forEach((y, k) => {
      const f = exactShare(openT[k]!, t, exposure, tauT);
      s00 += (1 - f) ** 2;
      s01 += f * (1 - f);
      s11 += f * f;
      b0 += (1 - f) * y;
      b1 += f * y;
    });
    const det = s00 * s11 - s01 * s01;
    times.push(t);
    logs.push(
      (b0 * b0 * s11 - 2 * b0 * b1 * s01 + b1 * b1 * s00) / (2 * varianceBefore * det) - 0.5 * Math.log(det),
    );
  }
  const best = Math.max(...logs);
  const weights = logs.map((l) => Math.exp(l - best));
  const total = weights.reduce((a, b) => a + b, 0);
  const mean = weights.reduce((sum, w, i) => sum + w * times[i]!, 0) / total;
  const variance = weights.reduce((sum, w, i) => sum + w * (times[i]! - mean) ** 2, 0) / total;
  return { mean, sd: Math.sqrt(variance) };
}

describe('posterior of an edge', () => {
  const cases = [
    { exposure: 1, snr: 20, tauT: 0 },
    { exposure: 0.9, snr: 60, tauT: 0 },
    { exposure: 0.5, snr: 20, tauT: 0 },
    { exposure: 0.1, snr: 50, tauT: 0 },
    { exposure: 0.8, snr: 30, tauT: 0.5 },
    { exposure: 0.4, snr: 40, tauT: 1.5 },
  ];
  it.each(cases)('is that of a brute-force sum: e $exposure, SNR $snr, time constant $tauT', (setting) => {
    const seed = 2001;
    const random = seededRandom(seed);
    for (let i = 0; i < 6; i++) {
      const { window } = syntheticEdge(random, { ...setting, plateauFrames: 10, base: 0.2, step: -0.4 });
      const ours = posteriorOf(window, setting.exposure, 0, setting.tauT);
      const theirs = bruteForce(window, setting.exposure, setting.tauT);
      expect(Math.abs(ours.meanT - theirs.mean), `seed ${seed}, edge ${i}`).toBeLessThan(GRID_T / 2);
      expect(Math.abs(ours.sdT - theirs.sd), `seed ${seed}, edge ${i}`).toBeLessThan(GRID_T / 2);
    }
  });

  it.each([0.8, 0.5, 0.2])('is uniform over the closed shutter, exposure %d', (exposure) => {
    // No frame is partly lit: the step fell while the shutter was closed.
    const values = Float64Array.from({ length: 21 }, (_, k) => (k < 10 ? 0.1 : 0.7));
    const posterior = posteriorOf(windowOf(values, 10, (0.6 / 2000) ** 2), exposure);
    const closed = 1 - exposure;
    // Its ends are as sharp as the noise: far below a hundredth of a period here.
    expect(posterior.meanT).toBeCloseTo(-closed / 2, 2);
    expect(posterior.sdT / (closed / Math.sqrt(12))).toBeGreaterThan(0.98);
    expect(posterior.sdT / (closed / Math.sqrt(12))).toBeLessThan(1.03);
    expect(posterior.excessKurtosis).toBeCloseTo(-1.2, 1);
    expect(Math.abs(posterior.intervalT[0] + 0.975 * closed)).toBeLessThan(0.01);
    expect(Math.abs(posterior.intervalT[1] + 0.025 * closed)).toBeLessThan(0.01);
    expect(posterior.before).toBeCloseTo(0.1, 3);
    expect(posterior.after).toBeCloseTo(0.7, 3);
  });

  it('reads a clean partly lit frame as its share of the exposure', () => {
    // t0 = t_k + e T (1 - s_k), method section 4.
    for (const exposure of [1, 0.7, 0.3]) {
      for (const share of [0.2, 0.5, 0.8]) {
        const values = Float64Array.from({ length: 21 }, (_, k) => (k < 10 ? 0 : k === 10 ? share : 1));
        const origin = share > 0.5 ? 10 : 11;
        const posterior = posteriorOf(windowOf(values, origin, 1e-6), exposure);
        const openT = 10 - origin;
        expect(Math.abs(posterior.meanT - (openT + exposure * (1 - share)))).toBeLessThan(0.004);
      }
    }
  });

  const anySetting = fc.record({
    exposure: fc.double({ min: 0.2, max: 1, noNaN: true }),
    snr: fc.double({ min: 15, max: 200, noNaN: true }),
    seed: fc.integer({ min: 0, max: 1_000_000 }),
  });

  it('does not depend on gain, offset or sign of the light', () => {
    fc.assert(
      fc.property(
        anySetting,
        fc.double({ min: 0.01, max: 300, noNaN: true }),
        fc.boolean(),
        fc.double({ min: -5, max: 5, noNaN: true }),
        ({ exposure, snr, seed }, size, flip, offset) => {
          const gain = flip ? -size : size;
          const { window } = syntheticEdge(seededRandom(seed), { exposure, snr, plateauFrames: 8 });
          const { values, varianceBefore } = window.channels[0]!;
          const origin = -window.channels[0]!.openT[0]!;
          const changed = windowOf(
            values.map((v) => gain * v + offset),
            origin,
            varianceBefore * gain * gain,
          );
          const a = posteriorOf(window, exposure, 0.03);
          const b = posteriorOf(changed, exposure, 0.03);
          // An offset far above the step costs digits.
          const tolerance = ROUNDING_T * (1 + Math.abs(offset) / size);
          expect(Math.abs(a.meanT - b.meanT)).toBeLessThan(tolerance);
          expect(Math.abs(a.sdT - b.sdT)).toBeLessThan(tolerance);
          expect(Math.abs(b.before - (gain * a.before + offset))).toBeLessThan(
            1e-4 * (size + Math.abs(offset)),
          );
        },
      ),
      { numRuns: 60, seed: 1401 },
    );
  });

  it('moves with the frames', () => {
    fc.assert(
      fc.property(
        anySetting,
        fc.double({ min: -0.3, max: 0.3, noNaN: true }),
        ({ exposure, snr, seed }, shift) => {
          const { window } = syntheticEdge(seededRandom(seed), { exposure, snr, plateauFrames: 8 });
          const channel = window.channels[0]!;
          const moved = { ...window, channels: [{ ...channel, openT: channel.openT.map((t) => t + shift) }] };
          const a = posteriorOf(window, exposure);
          const b = posteriorOf(moved, exposure);
          expect(Math.abs(b.meanT - a.meanT - shift)).toBeLessThan(GRID_T / 2);
          expect(Math.abs(b.sdT - a.sdT)).toBeLessThan(GRID_T / 2);
        },
      ),
      { numRuns: 60, seed: 1402 },
    );
  });

  it('leaves its input as it was', () => {
    const { window } = syntheticEdge(seededRandom(5), { exposure: 0.6, snr: 30, plateauFrames: 8 });
    const before = structuredClone(window);
    posteriorOf(window, 0.6);
    expect(window).toEqual(before);
  });

  it('is wider where the model is trusted less, and where the light is noisier', () => {
    const { window } = syntheticEdge(seededRandom(7), { exposure: 1, snr: 100, plateauFrames: 10 });
    const channel = window.channels[0]!;
    const noisy = { ...window, channels: [{ ...channel, varianceBefore: 4e-4, varianceAfter: 4e-4 }] };
    expect(posteriorOf(window, 1, 0.03).sdT).toBeGreaterThan(posteriorOf(window, 1, 0).sdT);
    expect(posteriorOf(noisy, 1).sdT).toBeGreaterThan(posteriorOf(window, 1).sdT * 1.7);
  });

  it('prefers the true exposure and the true time constant by its evidence', () => {
    const seed = 3003;
    const random = seededRandom(seed);
    const edges = Array.from({ length: 40 }, () =>
      syntheticEdge(random, { exposure: 0.6, snr: 80, plateauFrames: 10, tauT: 0.5 }),
    );
    const evidence = (exposure: number, tauT: number) =>
      edges.reduce((sum, { window }) => sum + posteriorOf(window, exposure, 0, tauT).logEvidence, 0);
    const truth = evidence(0.6, 0.5);
    for (const [e, r] of [
      [0.3, 0.5],
      [1, 0.5],
      [0.6, 0],
      [0.6, 1.2],
    ] as const) {
      expect(truth, `seed ${seed}, e ${e}, time constant ${r}`).toBeGreaterThan(evidence(e, r) + 3);
    }
  });

  it('uses bands of rows as a vernier: their closed times do not coincide', () => {
    // Check-values 1.6: bands that open one after the other leave less time in which no shutter is open.
    const seed = 4004;
    const random = seededRandom(seed);
    const exposure = 0.3;
    const bands = 8;
    const squares = { one: 0, many: 0 };
    const trials = 60;
    for (let i = 0; i < trials; i++) {
      const stepT = 10 + random.uniform();
      const channel = (shift: number, from: number, extent: number) => {
        const openT = Float64Array.from({ length: 21 }, (_, k) => k + shift - 10);
        const values = openT.map((t) => exactShare(t, stepT - 10, exposure) + random.normal(0, 0.02));
        return { values, openT, varianceBefore: 4e-4, varianceAfter: 4e-4, from, extent };
      };
      const many = Array.from({ length: bands }, (_, b) => channel((0.7 * b) / bands, b / bands, 1 / bands));
      const frame = many[0]!.values.findIndex((v) => v > 0.5);
      const at = (channels: typeof many): EdgeWindow => ({
        firstFrame: 0,
        originS: 0,
        channels: channels.map((c) => ({ ...c, openT: c.openT.map((t) => t - (frame - 10)) })),
      });
      const truthT = stepT - frame;
      const one = fitEdge(at([channel(0, 0, 1)]), blurShape(INSTANT, exposure), 0);
      const all = fitEdge(at(many), blurShape(INSTANT, exposure), 0);
      squares.one += (one!.meanT - truthT) ** 2;
      squares.many += (all!.meanT - truthT) ** 2;
    }
    expect(Math.sqrt(squares.one / trials), `seed ${seed}`).toBeGreaterThan(0.12);
    expect(Math.sqrt(squares.many / trials), `seed ${seed}`).toBeLessThan(0.02);
  });
});

describe('a change that a part of the region shows, before a sweep of many frames', () => {
  const SWEEP_T = 10;
  const PARTS = 20;
  /** Light of the lines of an item that is drawn one after another, exposure 1, no noise to speak of. */
  const itemWindow = (firstPart: number, parts: number, firstLightT: number): EdgeWindow => {
    const numbers = Array.from({ length: parts }, (_, i) => firstPart + i);
    const openT = Float64Array.from({ length: 60 }, (_, k) => k - 30);
    const share = (part: number, t: number) => {
      // Mean over an exposure of a stretch that is drawn while it lasts, summed up.
      const steps = 200;
      let sum = 0;
      for (let i = 0; i < steps; i++) {
        const drawn = (t + (i + 0.5) / steps - firstLightT) / SWEEP_T - part / PARTS;
        sum += Math.min(1, Math.max(0, drawn * PARTS)) / steps;
      }
      return sum;
    };
    // The origin is the frame that first shows more than half of the item.
    const whole = (t: number) => numbers.reduce((s, part) => s + share(part, t), 0) / parts;
    const crossing = openT.find((t) => whole(t) > 0.5)!;
    return {
      firstFrame: 0,
      originS: 0,
      channels: numbers.map((part) => ({
        values: openT.map((t) => share(part, t)),
        openT: openT.map((t) => t - crossing),
        varianceBefore: 1e-6,
        varianceAfter: 1e-6,
        from: part / PARTS,
        extent: 1 / PARTS,
      })),
    };
  };

  it.each([
    ['at the top', 0, 5],
    ['in the middle', 8, 4],
    ['at the bottom', 15, 5],
  ])('is placed where it began: an item %s', (_, firstPart, parts) => {
    const firstLightT = 0.3;
    const window = itemWindow(firstPart, parts, firstLightT);
    const posterior = fitEdge(window, blurShape({ tauT: 0, sweepT: SWEEP_T }, 1), 0.01)!;
    const crossing = -window.channels[0]!.openT[30]!;
    expect(Math.abs(posterior.meanT + crossing - firstLightT)).toBeLessThan(0.02);
  });
});
