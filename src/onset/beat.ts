/**
 * The beat of a light that shines in pulses (backlight dimmed by pulses, strobed backlight, tube) against the camera's
 * frames. Whatever the pulses look like, a steady picture reads the same in every frame that meets them at the same
 * phase: like phases are compared, never frames as they come (method 3).
 */
import { powerSpectrum } from '../numeric/spectrum.js';
import { stretchOf, type Trace } from '../trace/trace.js';
import { beatCurve, binsFor } from './beatCurve.js';
import { steadyFrames } from './steadyFrames.js';

/** How a region's light rises and falls with the pulses behind it. */
export interface Beat {
  /** Cycles a capture period as the frames show them, 0..0.5: the true rate is this, or its mirror, plus a whole number. */
  readonly perFrame: number;
  /** Share of the fast variation that repeats with the beat, 0..1. */
  readonly explained: number;
  /** Largest less smallest gain over their sum, 0..1: how deep the pulses cut. */
  readonly depth: number;
  /** Band of each cell; bands are stretches of rows, top to bottom. */
  readonly bandOfCell: Uint8Array;
  /** Gain of each band in each frame, mean 1 over a beat: of the bright state less the dim one, where there are two. */
  readonly gains: readonly Float32Array[];
  /** Light of the dim state in each frame, less the steady light; null where there is only one state. */
  readonly dimLight: readonly (Float32Array | null)[];
  /** Frames in which the picture is dim and still. */
  readonly dimFrames: readonly number[];
  /** Light of each band that does not follow the pulses (room light on the glass). */
  readonly steady: readonly number[];
  /** Each band's light without the steady part. */
  readonly bands: readonly BeatBand[];
  /** Frames in which the picture is bright and still. */
  readonly stillFrames: readonly number[];
}

/** One band of rows as the pulses show it. */
export interface BeatBand {
  readonly signal: Float64Array;
  /** Start of exposure of the band's rows in each frame, s. */
  readonly openS: Float64Array;
  /** Where the band begins and how much of the region's height it covers, 0..1. */
  readonly from: number;
  readonly extent: number;
}

const MOST_BANDS = 8;
// Share of the fast variation that a beat must explain, and its depth, to be one.
const LEAST_EXPLAINED = 0.5;
const LEAST_DEPTH = 0.02;
// A shallow beat must be beyond doubt: what moves on the screen by itself can look like one.
const SHALLOW = 0.15;
const LEAST_EXPLAINED_SHALLOW = 0.8;
// Slower than this is drift, which the plateaus beside each change take out; but pulses that put the light out for many
// frames at a time are no drift.
const SLOWEST_BEAT = 0.03;
const SLOWEST_DEEP_BEAT = 0.008;
const DEEP_SLOW = 0.5;
const LEAST_EXPLAINED_SLOW = 0.9;
const MOST_PEAKS = 14;
const LEAST_FRAMES = 20;

/**
 * Looks for a beat in a region.
 * @param expectedHz rates that a display is likely to have (stated refresh); they are tried first.
 * @returns null where the light is steady, or flickers without a rule.
 */
export function findBeat(trace: Trace, expectedHz: readonly number[]): Beat | null {
  const { frames, periodS } = trace;
  if (frames < 64) return null;
  const { bandOfCell, light } = bandLight(trace);
  const timesT = Float64Array.from(trace.openS, (t) => t / periodS);
  // Frames of about one refresh around a change are left out; a refresh that is not known may be as slow as 60 Hz.
  const slowestHz = expectedHz.length > 0 ? Math.min(...expectedHz) : 60;
  const states = steadyFrames(light, 1 / (slowestHz * periodS));
  const { bright, dim } = states;
  if (bright.length < LEAST_FRAMES) return null;
  const fast = light.map((values) => fastPart(values, bright));
  const expected = expectedHz.map((hz) => aliasOf(hz * periodS)).filter((f) => f > SLOWEST_BEAT);
  const candidates = [
    ...expected.map((perFrame) => ({ perFrame, trust: 0.01 })),
    ...spectralPeaks(fast).map((perFrame) => ({ perFrame, trust: 0 })),
  ];
  let best: { perFrame: number; explained: number } | null = null;
  for (const { perFrame, trust } of candidates) {
    const found = refine(fast, timesT, bright, perFrame, trust);
    // Later candidates are overtones or neighbours of the first: they must explain clearly more.
    if (!best || found.explained > best.explained + 0.04) best = found;
  }
  if (!best || best.explained < LEAST_EXPLAINED) return null;
  const curves = light.map((values) => beatCurve(values, timesT, best.perFrame, { bright, dim }));
  const depth = Math.max(...curves.map((c) => c.depth));
  if (depth < LEAST_DEPTH || spreadSeen(light, bright) < LEAST_DEPTH) return null;
  if (depth < SHALLOW && best.explained < LEAST_EXPLAINED_SHALLOW) return null;
  const isSlow = best.perFrame < SLOWEST_BEAT;
  if (isSlow && (depth < DEEP_SLOW || best.explained < LEAST_EXPLAINED_SLOW)) return null;
  return {
    ...best,
    depth,
    bandOfCell,
    gains: curves.map((c) => c.gain),
    steady: curves.map((c) => c.steady),
    dimLight: curves.map((c) => c.dimLight),
    dimFrames: dim,
    bands: light.map((values, b) => ({
      signal: values.map((v) => v - curves[b]!.steady),
      openS: bandOpenS(trace, bandOfCell, b),
      ...stretchOf(trace, cellsOf(bandOfCell, b)),
    })),
    stillFrames: bright,
  };
}

function bandLight(trace: Trace): { bandOfCell: Uint8Array; light: Float64Array[] } {
  const { frames, cells } = trace;
  const rows = new Set(trace.down).size;
  const count = Math.max(1, Math.min(MOST_BANDS, rows >> 1));
  const bandOfCell = Uint8Array.from(trace.down, (d) => Math.min(count - 1, Math.floor(d * count)));
  const light = Array.from({ length: count }, () => new Float64Array(frames));
  const members = new Float64Array(count);
  for (const b of bandOfCell) members[b]!++;
  for (let k = 0; k < frames; k++) {
    for (let c = 0; c < cells; c++) light[bandOfCell[c]!]![k]! += trace.light[k * cells + c]!;
  }
  return { bandOfCell, light: light.map((v, b) => v.map((x) => x / Math.max(1, members[b]!))) };
}

/**
 * Largest less smallest light of the still frames over their sum, of the middle one of the bands, 0..1. A curve may claim
 * more from phases that no frame met: each of a few short flashes then has a level and a phase of its own.
 */
function spreadSeen(light: readonly Float64Array[], bright: readonly number[]): number {
  const spreads = light.map((values) => {
    let low = Number.POSITIVE_INFINITY;
    let high = Number.NEGATIVE_INFINITY;
    for (const k of bright) {
      low = Math.min(low, values[k]!);
      high = Math.max(high, values[k]!);
    }
    return high + low > 0 ? (high - low) / (high + low) : 0;
  });
  return spreads.sort((a, b) => a - b)[spreads.length >> 1]!;
}

function cellsOf(bandOfCell: Uint8Array, band: number): number[] {
  return [...bandOfCell.keys()].filter((c) => bandOfCell[c] === band);
}

function bandOpenS(trace: Trace, bandOfCell: Uint8Array, band: number): Float64Array {
  const offsets = cellsOf(bandOfCell, band).map((c) => trace.openOffsetS[c]!);
  const shift = offsets.reduce((a, b) => a + b, 0) / Math.max(1, offsets.length);
  return trace.openS.map((t) => t + shift);
}

/** Bright frames less their neighbourhood's mean over itself, 0 elsewhere; slow drift stays out. */
function fastPart(values: Float64Array, bright: readonly number[]): Float64Array {
  const out = new Float64Array(values.length);
  const reach = 30;
  let from = 0;
  let to = 0;
  let sum = 0;
  bright.forEach((k) => {
    while (to < bright.length && bright[to]! <= k + reach) sum += values[bright[to++]!]!;
    while (bright[from]! < k - reach) sum -= values[bright[from++]!]!;
    const mean = sum / (to - from);
    out[k] = mean > 0 ? values[k]! / mean - 1 : 0;
  });
  return out;
}

function aliasOf(cyclesPerFrame: number): number {
  const f = cyclesPerFrame - Math.floor(cyclesPerFrame);
  return Math.min(f, 1 - f);
}

/** The strongest lines of all bands together, each a candidate for the beat or one of its overtones. */
function spectralPeaks(signals: readonly Float64Array[]): number[] {
  const spectra = signals.map((s) => powerSpectrum(s, 1));
  const { binWidth } = spectra[0]!;
  const power = new Float64Array(spectra[0]!.power.length);
  for (const s of spectra) for (let i = 0; i < power.length; i++) power[i]! += s.power[i]!;
  // One-sided power counts every line twice but that of a light that goes up and down from frame to frame.
  power[power.length - 1]! *= 2;
  const peaks: number[] = [];
  const first = Math.ceil(SLOWEST_DEEP_BEAT / binWidth);
  for (let i = first; i < power.length; i++) {
    if (power[i]! >= (power[i - 1] ?? 0) && power[i]! >= (power[i + 1] ?? 0)) peaks.push(i);
  }
  peaks.sort((a, b) => power[b]! - power[a]!);
  return peaks.slice(0, MOST_PEAKS).map((i) => i * binWidth);
}

/**
 * The best beat within a line's width of a candidate.
 * @param trust how much less the candidate itself may explain and still be kept: short spans of light far apart leave
 *   side lobes that explain as much.
 */
function refine(
  fast: readonly Float64Array[],
  timesT: Float64Array,
  bright: readonly number[],
  candidate: number,
  trust: number,
): { perFrame: number; explained: number } {
  const frames = timesT.length;
  let best = { perFrame: candidate, explained: explainedBy(fast, timesT, bright, candidate) + trust };
  for (const step of [0.25, 0.06]) {
    const centre = best.perFrame;
    for (let i = -8; i <= 8; i++) {
      const perFrame = centre + (i * step) / frames;
      if (perFrame <= 0) continue;
      const explained = explainedBy(fast, timesT, bright, perFrame);
      if (explained > best.explained) best = { perFrame, explained };
    }
  }
  return best;
}

/** Share of the variance that lies between bins of like phase, corrected for the number of bins. */
function explainedBy(
  fast: readonly Float64Array[],
  timesT: Float64Array,
  bright: readonly number[],
  perFrame: number,
): number {
  const bins = Math.min(32, binsFor(bright.length));
  let within = 0;
  let total = 0;
  let used = 0;
  const sum = new Float64Array(bins);
  const square = new Float64Array(bins);
  // The bins are the same for all bands.
  const count = new Float64Array(bins);
  const binOf = new Uint8Array(bright.length);
  for (let i = 0; i < bright.length; i++) {
    const phase = timesT[bright[i]!]! * perFrame;
    const bin = Math.min(bins - 1, Math.floor((phase - Math.floor(phase)) * bins));
    binOf[i] = bin;
    count[bin]!++;
  }
  for (const values of fast) {
    sum.fill(0);
    square.fill(0);
    for (let i = 0; i < bright.length; i++) {
      const bin = binOf[i]!;
      const v = values[bright[i]!]!;
      sum[bin]! += v;
      square[bin]! += v * v;
    }
    used = 0;
    for (let b = 0; b < bins; b++) {
      total += square[b]!;
      if (count[b]! === 0) continue;
      used++;
      within += square[b]! - sum[b]! ** 2 / count[b]!;
    }
  }
  const n = bright.length;
  return total > 0 ? 1 - (within / total) * ((n - 1) / Math.max(1, n - used)) : 0;
}
