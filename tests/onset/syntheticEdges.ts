/** Camera frames of a step with known truth, made by the closed form of the exposure and not by the code under test. */

import type { SeededRandom } from '../../src/numeric/seededRandom.js';
import type { EdgeWindow } from '../../src/onset/edgeWindow.js';
import type { Trace } from '../../src/trace/trace.js';

/** An edge in camera frames; times in capture periods from the window's first frame. */
export interface EdgeSetting {
  readonly exposure: number;
  /** Step over the noise of a frame. */
  readonly snr: number;
  /** Frames wholly before and wholly after the frame in whose period the step falls. */
  readonly plateauFrames: number;
  /** Time constant of the response, periods; 0 for an instant step. */
  readonly tauT?: number;
  readonly base?: number;
  /** Signed size of the step. */
  readonly step?: number;
}

/** Share of a step at `stepT` in a frame that opens at `openT` (check-values 1.1, closed form). */
export function exactShare(openT: number, stepT: number, exposure: number, tauT = 0): number {
  const u = Math.max(openT - stepT, 0);
  const v = Math.max(openT + exposure - stepT, 0);
  if (tauT === 0) return (v - u) / exposure;
  return (v - u + tauT * (Math.exp(-v / tauT) - Math.exp(-u / tauT))) / exposure;
}

/** One noisy edge: the window as the finder would cut it, and the truth relative to the window's origin. */
export function syntheticEdge(
  random: SeededRandom,
  setting: EdgeSetting,
): { readonly window: EdgeWindow; readonly truthT: number } {
  const { exposure, snr, plateauFrames: n, tauT = 0, base = 0, step = 1 } = setting;
  const stepT = n + random.uniform();
  const sd = Math.abs(step) / snr;
  const count = 2 * n + 1 + Math.ceil(6 * tauT);
  const values = Float64Array.from(
    { length: count },
    (_, k) => base + step * exactShare(k, stepT, exposure, tauT) + random.normal(0, sd),
  );
  const middle = base + step / 2;
  let frame = 0;
  while (frame < count - 1 && Math.sign(step) * (values[frame]! - middle) <= 0) frame++;
  return { window: windowOf(values, frame, sd * sd), truthT: stepT - frame };
}

/** A window of one channel whose origin is frame `origin`. */
export function windowOf(values: Float64Array, origin: number, variance: number): EdgeWindow {
  return {
    firstFrame: 0,
    originS: 0,
    channels: [
      {
        values,
        openT: Float64Array.from(values, (_, k) => k - origin),
        varianceBefore: variance,
        varianceAfter: variance,
        from: 0,
        extent: 1,
      },
    ],
  };
}

/** What an LED does: on from `onS` to `offS`, s. */
export interface Lit {
  readonly onS: number;
  readonly offS: number;
}

/** How a synthetic LED trace is filmed. */
export interface TraceSetting {
  readonly frames: number;
  readonly periodS: number;
  readonly exposure: number;
  /** Noise of one cell, linear light. */
  readonly noise: number;
  readonly cells?: number;
  /** Frame indices before which this many periods are missing. */
  readonly missing?: ReadonlyMap<number, number>;
}

/** The trace of a region whose cells all show the same light: `lights` on 0.05, added up over the exposures exactly. */
export function ledTrace(random: SeededRandom, lights: readonly Lit[], setting: TraceSetting): Trace {
  const { frames, periodS, exposure, noise, cells = 6 } = setting;
  const light = new Float32Array(frames * cells);
  const openS = new Float64Array(frames);
  const missingBefore = new Uint16Array(frames);
  let slot = 0;
  for (let k = 0; k < frames; k++) {
    missingBefore[k] = setting.missing?.get(k) ?? 0;
    slot += k === 0 ? 0 : 1 + missingBefore[k]!;
    openS[k] = slot * periodS;
    const closeS = openS[k]! + exposure * periodS;
    let litS = 0;
    for (const { onS, offS } of lights)
      litS += Math.max(0, Math.min(closeS, offS) - Math.max(openS[k]!, onS));
    for (let c = 0; c < cells; c++) {
      light[k * cells + c] = 0.05 + (0.6 * litS) / (exposure * periodS) + random.normal(0, noise);
    }
  }
  return {
    region: { name: 'led', role: 'led', x: 0, y: 0, width: cells, height: 2 },
    frames,
    cells,
    light,
    noise: new Float32Array(cells).fill(noise),
    openS,
    down: new Float32Array(cells).fill(0.5),
    tall: new Float32Array(cells).fill(1),
    openOffsetS: new Float32Array(cells),
    periodS,
    missingBefore,
    clippedCells: 0,
    saturated: false,
  };
}
