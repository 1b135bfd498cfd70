/** LED on and off: two levels, found over the whole clip, then each edge by its posterior. */
import { project, type Trace } from '../trace/trace.js';
import { encodeLight } from '../units.js';
import { findBounces, mayBeEarlier, NOT_EARLIER, withoutBounce } from './bounce.js';
import { blurShape, EDGE_MISFIT, FORM_MISFIT, fitEdge } from './edgeFit.js';
import { levelTime } from './edgeShape.js';
import type { EdgeWindow } from './edgeWindow.js';
import type { ExposureEstimate } from './exposure.js';

import { gapFlags } from './gapFlags.js';
import { ledForm } from './ledForm.js';
import { oddEdges, slowestLedS } from './oddEdges.js';
import type { Onset, OnsetSet } from './onset.js';
import { type Crossing, cutWindows, EDGE_FRAMES } from './windows.js';

/** What is known beforehand about the shutter. */
export interface LedOptions {
  /** Stated exposure fraction, or null to estimate it from the LED's edges. */
  readonly exposureFraction: number | null;
  /** Edges closer together than this are contact bounce: the first one counts. */
  readonly bounceS: number;
}

/** The LED's onsets with what they tell about the camera. */
export interface LedOnsets extends OnsetSet {
  readonly exposure: ExposureEstimate | null;
  /** Step between off and on over the noise of a frame; 0 where no two levels were found. */
  readonly contrast: number;
}

// Range of a plateau over the step, above which an LED is dimmed by pulses that a short exposure does not even out.
const FLICKER = 0.25;
const LEAST_STEADY = 4;
// Two levels must be this far apart, in noise of one frame, to be an LED and not noise.
const LEAST_CONTRAST = 6;
// Encoded, three 8-bit codes: coding steps of a still picture stay below it.
const LEAST_STEP = 3 / 219;
/**
 * Finds every LED edge of a trace.
 * @returns onsets in time order, sign 1 for on and -1 for off; none where the trace has no two levels.
 */
export function findLedOnsets(trace: Trace, options: LedOptions): LedOnsets {
  const levels = twoLevels(trace);
  const nothing: LedOnsets = {
    region: trace.region,
    onsets: [],
    shapes: { rise: { tauT: 0, sweepT: 0 }, fall: { tauT: 0, sweepT: 0 } },
    responseTimeMs: null,
    shapeSdS: 0,
    signals: [levels.signal],
    light: 'held',
    refreshHz: null,
    warnings: [],
    exposure: null,
    contrast: levels.contrast,
  };
  if (levels.contrast < LEAST_CONTRAST) return nothing;
  const bounceFrames = Math.max(1, Math.round(options.bounceS / trace.periodS));
  const crossings = hysteresis(levels.signal, levels.low, levels.high, bounceFrames);
  if (crossings.length === 0) return nothing;
  const plateauFrames = Math.min(40, Math.max(8, Math.round(0.05 / trace.periodS)));
  const whole = { signal: levels.signal, openS: trace.openS, from: 0, extent: 1 };
  const bounces = findBounces(levels.signal, levels, crossings, bounceFrames);
  // Dips of a bouncing contact are neither noise of its plateaus nor errors of coding.
  const edgeFrames = EDGE_FRAMES + Math.max(0, ...bounces.map((b) => b?.frames ?? 0));
  const filmed = cutWindows(whole, [whole], trace.periodS, crossings, {
    plateauFrames,
    settleFrames: edgeFrames,
    betweenLevels: edgeFrames,
  });
  const { odd, usualUnrest } = oddEdges(levels.signal, levels, crossings, plateauFrames, trace.periodS);
  const cut = filmed.map((window, i) => {
    const bounce = bounces[i];
    return window && bounce ? withoutBounce(window, bounce) : window;
  });
  const clean = cut.filter((w, i): w is EdgeWindow => w !== null && !odd[i]);
  // Edges that bounce say little about the LED's own form, where there are others.
  const steady = cut.filter((w, i): w is EdgeWindow => w !== null && !odd[i] && !bounces[i]);
  const windows = steady.length >= LEAST_STEADY ? steady : clean;
  const { shape, laterT, exposure } = ledForm(windows, options.exposureFraction, FORM_MISFIT);
  const fraction = options.exposureFraction ?? exposure?.fraction ?? 0.9;
  const edge = blurShape(shape, fraction);
  const onsets: Onset[] = [];
  const half = levelTime(0.5, shape) * trace.periodS;
  const settled = levelTime(0.9, shape) * trace.periodS;
  // A thumb that comes and goes over a light too dim to be told from the room.
  const isNoLight = settled - levelTime(0.1, shape) * trace.periodS > slowestLedS(trace.periodS);
  crossings.forEach((crossing, i) => {
    const window = cut[i];
    const posterior = window ? fitEdge(window, edge, EDGE_MISFIT) : null;
    if (!window || !posterior) return;
    const bounce = bounces[i];
    const earlier = bounce ? mayBeEarlier(window, bounce, posterior.meanT, fraction) : NOT_EARLIER;
    // Where the LED may be slow, its edge lies between that of an instant one and that of a slow one.
    const at = (t: number) => window.originS + (t - laterT / 2 - earlier.meanT) * trace.periodS;
    const onset: Onset = {
      frame: crossing.frame,
      kind: 0,
      sign: crossing.sign,
      contrast: Math.abs(posterior.after - posterior.before) / Math.sqrt(window.channels[0]!.varianceBefore),
      firstLightS: at(posterior.meanT),
      levelS: at(posterior.meanT),
      halfS: at(posterior.meanT) + half,
      settledS: at(posterior.meanT) + settled,
      sdS: Math.hypot(posterior.sdT, laterT / 2, earlier.sdT) * trace.periodS,
      excessKurtosis: posterior.excessKurtosis,
      intervalS: [
        at(posterior.intervalT[0] - laterT / 2 - earlier.mostT + earlier.meanT),
        at(posterior.intervalT[1] + laterT / 2 + earlier.meanT),
      ],
      before: posterior.before,
      after: posterior.after,
      flags: [
        ...gapFlags(trace, crossing.frame),
        ...(odd[i] || isNoLight ? ['odd-led-edge'] : []),
        ...(laterT > 0 ? ['slow-led'] : []),
        ...(usualUnrest > FLICKER ? ['flickering-led'] : []),
      ],
    };
    onsets.push(onset);
  });
  return { ...nothing, onsets, shapes: { rise: shape, fall: shape }, exposure };
}

/** Signal along the direction from off to on, with its two levels. */
function twoLevels(trace: Trace): { signal: Float64Array; low: number; high: number; contrast: number } {
  const { cells, frames, light, noise } = trace;
  let direction: Float64Array = new Float64Array(cells);
  // A spread of frames is enough to see which cells have two levels at all.
  const stride = Math.max(1, Math.floor(frames / 800));
  const column = new Float32Array(Math.floor((frames - 1) / stride) + 1);
  for (let c = 0; c < cells; c++) {
    for (let i = 0; i < column.length; i++) column[i] = light[i * stride * cells + c]!;
    column.sort();
    const span = column[Math.floor(column.length * 0.97)]! - column[Math.floor(column.length * 0.03)]!;
    direction[c] = (span / noise[c]!) ** 2 > 16 ? span / noise[c]! ** 2 : 0;
  }
  let result: { signal: Float64Array; low: number; high: number; contrast: number } = {
    signal: new Float64Array(frames),
    low: 0,
    high: 0,
    contrast: 0,
  };
  for (let round = 0; round < 3; round++) {
    if (direction.every((d) => d === 0)) return result;
    const signal = project(trace, direction);
    const { low, high } = splitLevels(signal);
    const differences = Float64Array.from({ length: Math.max(0, frames - 1) }, (_, k) =>
      Math.abs(signal[k + 1]! - signal[k]!),
    ).sort();
    const sd = (differences[differences.length >> 1] ?? 0) / (0.6745 * Math.SQRT2);
    result = { signal, low, high, contrast: sd > 0 ? (high - low) / sd : high > low ? 1e6 : 0 };
    const middle = (low + high) / 2;
    const on = new Float64Array(cells);
    const off = new Float64Array(cells);
    let onFrames = 0;
    let offFrames = 0;
    for (let k = 0; k < frames; k++) {
      const target = signal[k]! > middle ? on : off;
      if (target === on) onFrames++;
      else offFrames++;
      for (let c = 0; c < cells; c++) target[c]! += light[k * cells + c]!;
    }
    if (onFrames === 0 || offFrames === 0) return { ...result, contrast: 0 };
    const codes = (light: number) => encodeLight(light, 'bt709');
    const largest = on.reduce(
      (most, v, c) => Math.max(most, codes(v / onFrames) - codes(off[c]! / offFrames)),
      0,
    );
    if (largest < LEAST_STEP) return { ...result, contrast: 0 };
    direction = Float64Array.from(noise, (sd, c): number => {
      const step = on[c]! / onFrames - off[c]! / offFrames;
      return step > sd ? step / (sd * sd) : 0;
    });
  }
  return result;
}

/** Two levels of a signal: one-dimensional two-means, started at the extremes. */
function splitLevels(signal: Float64Array): { low: number; high: number } {
  const sorted = Float64Array.from(signal).sort();
  let low = sorted[Math.floor(sorted.length * 0.02)] ?? 0;
  let high = sorted[Math.floor(sorted.length * 0.98)] ?? 0;
  for (let i = 0; i < 20; i++) {
    const middle = (low + high) / 2;
    let lowSum = 0;
    let lowN = 0;
    let highSum = 0;
    let highN = 0;
    for (const v of sorted) {
      if (v < middle) {
        lowSum += v;
        lowN++;
      } else {
        highSum += v;
        highN++;
      }
    }
    if (lowN === 0 || highN === 0) break;
    low = lowSum / lowN;
    high = highSum / highN;
  }
  return { low, high };
}

/** Crossings between two levels with hysteresis; a state shorter than `bounceFrames` after an edge is bounce. */
function hysteresis(signal: Float64Array, low: number, high: number, bounceFrames: number): Crossing[] {
  const up = low + 0.6 * (high - low);
  const down = low + 0.4 * (high - low);
  const middle = low + 0.5 * (high - low);
  const crossings: Crossing[] = [];
  let on = signal[0]! > middle;
  for (let k = 1; k < signal.length; k++) {
    const turnsOn = !on && signal[k]! > up;
    const turnsOff = on && signal[k]! < down;
    if (!turnsOn && !turnsOff) continue;
    on = turnsOn;
    let frame = k;
    while (frame > 0 && (turnsOn ? signal[frame - 1]! > middle : signal[frame - 1]! < middle)) frame--;
    crossings.push({ frame, sign: turnsOn ? 1 : -1 });
  }
  return dropBounce(crossings, bounceFrames);
}

/** Removes pairs of edges that only undo each other within the bounce time: the first closure counts. */
function dropBounce(crossings: readonly Crossing[], bounceFrames: number): Crossing[] {
  const kept: Crossing[] = [];
  for (const crossing of crossings) {
    const last = kept[kept.length - 1];
    const beforeLast = kept[kept.length - 2];
    if (
      last &&
      beforeLast &&
      crossing.frame - last.frame <= bounceFrames &&
      crossing.sign === beforeLast.sign &&
      crossing.frame - beforeLast.frame <= 4 * bounceFrames
    ) {
      kept.pop();
      continue;
    }
    kept.push(crossing);
  }
  return kept;
}
