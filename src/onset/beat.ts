/**
 * The beat of a light that shines in pulses (backlight dimmed by pulses, strobed backlight, tube) against the camera's
 * frames. Whatever the pulses look like, a steady picture reads the same in every frame that meets them at the same
 * phase: like phases are compared, never frames as they come (method 3).
 */
import { stretchOf, type Trace } from '../trace/trace.js';
import { beatCurve } from './beatCurve.js';
import {
  aliasOf,
  explainedShare,
  fastVariation,
  LEAST_TURNS_IN_CLIP,
  type Rhythm,
  strongestRhythm,
} from './beatRhythm.js';
import { type SteadyFrames, steadyFrames } from './steadyFrames.js';

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
  /** True where the bands' light was scaled, as the still frames show several pictures. */
  readonly isOfPictures: boolean;
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
// A coder that repeats a still picture leaves rounding errors only, less than this share of the light (rms).
const LEAST_VARIATION = 0.002;
// A shallow beat must be beyond doubt: what moves on the screen by itself can look like one.
const SHALLOW = 0.15;
const LEAST_EXPLAINED_SHALLOW = 0.8;
// Slower than this is drift, which the plateaus beside each change take out; but pulses that put the light out for many
// frames at a time are no drift, nor is what repeats all over the clip to a few hundredths.
const SLOWEST_BEAT = 0.03;
const DEEP_SLOW = 0.5;
const LEAST_EXPLAINED_SLOW = 0.85;
const LEAST_EXPLAINED_SLOW_SHALLOW = 0.95;
// The overtones that the slowest beats leave are no faster than this; they explain so much less than the beat itself.
const FASTEST_OVERTONE = 0.1;
const OVERTONE_LESS = 0.04;
// Turns of a slow beat that bright frames must cover, where the dim picture does not show it as well.
const LEAST_TURNS = 3;
// So small a part of a turn takes the light through no more than such a share of its range: 0.4 with a shutter that is open
// for a tenth of the frame.
const AT_ONCE_TURNS = 0.04;
const MOST_AT_ONCE = 0.45;
// Fewer bright frames than this are explained by many rhythms.
const FEW_FRAMES = 100;
// A rhythm that explains less than this share of what the dim frames' own does is not theirs.
const AGREES = 0.8;
// A rhythm with long dark phases must explain this share of the variation to be believed.
const LEAST_EXPLAINED_DARK = 0.9;

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
  const expected = expectedHz.map((hz) => aliasOf(hz * periodS)).filter((f) => f > SLOWEST_BEAT);
  const tried = steadyFrames(light, 1 / (slowestHz * periodS));
  // No rhythm of light that hardly changes is a beat: looking for one takes longer than all else.
  if (tried.every(({ bright }) => spreadSeen(light, bright) < LEAST_DEPTH)) return null;
  let best: (Rhythm & SteadyFrames) | null = null;
  for (const states of tried) {
    const found = slowRhythm(light, timesT, states, rhythmOf(light, timesT, states, expected));
    // Dark phases of a rhythm repeat with it; dark pictures that a longer look took for some do not.
    if (found && (!best || found.explained > LEAST_EXPLAINED_DARK)) best = { ...states, ...found };
  }
  if (!best || best.explained < LEAST_EXPLAINED) return null;
  const { bright, dim, perFrame, explained } = best;
  const curves = light.map((values) => beatCurve(values, timesT, perFrame, { bright, dim }));
  const depth = Math.max(...curves.map((c) => c.depth));
  if (depth < LEAST_DEPTH || spreadSeen(light, bright) < LEAST_DEPTH) return null;
  if (perFrame >= SLOWEST_BEAT && fastVariation(light, bright) < LEAST_VARIATION) return null;
  if (depth < SHALLOW && explained < LEAST_EXPLAINED_SHALLOW) return null;
  const isSure = perFrame >= SLOWEST_BEAT || (depth >= DEEP_SLOW && explained >= LEAST_EXPLAINED_SLOW);
  if (!isSure && !(goesOn(best, frames) && goesSmoothly(light, bright, perFrame))) return null;
  return {
    perFrame,
    explained,
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
    isOfPictures: false,
  };
}

/** Whether a light repeats itself all over a clip of so many frames, as drift does not. */
function goesOn({ perFrame, explained }: Rhythm, frames: number): boolean {
  return perFrame * frames >= LEAST_TURNS_IN_CLIP && explained >= LEAST_EXPLAINED_SLOW_SHALLOW;
}

/**
 * The rhythm of the bright frames, where the pulses are seen best; or of the dim ones, where hardly a bright frame is
 * still (short flashes): many rhythms explain a handful of frames, which the dim ones then contradict.
 */
function rhythmOf(
  light: readonly Float64Array[],
  timesT: Float64Array,
  { bright, dim }: SteadyFrames,
  expected: readonly number[],
): Rhythm | null {
  const found = strongestRhythm(light, timesT, bright, expected);
  const isClear = found !== null && found.explained >= LEAST_EXPLAINED;
  if ((bright.length >= FEW_FRAMES && isClear) || dim.length <= bright.length) return found;
  const fromDim = strongestRhythm(light, timesT, dim, expected);
  if (!fromDim || fromDim.explained < LEAST_EXPLAINED) return found;
  const agrees = found && explainedShare(light, timesT, dim, found.perFrame) > AGREES * fromDim.explained;
  return agrees ? found : fromDim;
}

/**
 * A rhythm so slow that the mean of the frames around takes it for drift, and leaves its overtones, if it explains the
 * light all over the clip, and the dim picture does not contradict; else what was found before.
 */
function slowRhythm(
  light: readonly Float64Array[],
  timesT: Float64Array,
  { bright, dim }: SteadyFrames,
  found: Rhythm | null,
): Rhythm | null {
  const isFast = found && found.explained >= LEAST_EXPLAINED && found.perFrame > FASTEST_OVERTONE;
  if (isFast) return found;
  const spread = spreadSeen(light, bright);
  if (spread < LEAST_DEPTH) return found;
  const whole = Number.POSITIVE_INFINITY;
  const slow = strongestRhythm(light, timesT, bright, [], whole);
  if (!slow || slow.perFrame >= SLOWEST_BEAT || !goesOn(slow, timesT.length)) return found;
  const own = found ? explainedShare(light, timesT, bright, found.perFrame, whole) : 0;
  const isKnown = found !== null && own >= slow.explained - OVERTONE_LESS;
  const rhythm = isKnown ? { ...found, explained: Math.max(found.explained, own) } : slow;
  const fromDim = strongestRhythm(light, timesT, dim, [], whole);
  // Each of a few flashes in a part of the turn of its own fits any rhythm; and presses by a clock make the picture go by
  // it, but at once, where pulses take a part of the turn.
  if (!fromDim || fromDim.explained < LEAST_EXPLAINED) {
    // A light that goes out in between may be a picture that is dark now and then: more of it must be alike.
    const least = spread > DEEP_SLOW ? LEAST_TURNS_IN_CLIP : LEAST_TURNS;
    const isRepeated = bright.length * rhythm.perFrame >= least;
    return isRepeated && goesSmoothly(light, bright, rhythm.perFrame) ? rhythm : found;
  }
  return explainedShare(light, timesT, dim, rhythm.perFrame, whole) > AGREES * fromDim.explained
    ? rhythm
    : found;
}

/**
 * Whether, in most bands, the light takes a good part of the turn to go through its range: pulses do, as their edge crosses
 * the exposure; a picture that changes by a clock does not.
 */
function goesSmoothly(light: readonly Float64Array[], bright: readonly number[], perFrame: number): boolean {
  const apart = Math.max(1, Math.floor(AT_ONCE_TURNS / perFrame));
  // What comes but once in two turns may be anything.
  const often = Math.floor((bright.length * perFrame) / 2);
  const smooth = light.filter((values) => {
    const seen = bright.map((k) => values[k]!).sort((a, b) => a - b);
    const steps = bright.flatMap((k, i) =>
      bright[i + apart] === k + apart ? [Math.abs(values[k + apart]! - values[k]!)] : [],
    );
    steps.sort((a, b) => b - a);
    const range = seen[Math.floor(0.98 * seen.length)]! - seen[Math.floor(0.02 * seen.length)]!;
    return (steps[often] ?? 0) < MOST_AT_ONCE * range;
  });
  return smooth.length > light.length / 2;
}

function bandLight(trace: Trace): { bandOfCell: Uint8Array; light: Float64Array[] } {
  const { frames, cells } = trace;
  const rows = new Set(trace.down).size;
  const count = Math.max(1, Math.min(MOST_BANDS, rows >> 1));
  const bandOfCell = Uint8Array.from(trace.down, (d) => Math.min(count - 1, Math.floor(d * count)));
  const light = Array.from({ length: count }, () => new Float64Array(frames));
  const members = new Float64Array(count);
  for (const b of bandOfCell) members[b]!++;
  const sums = new Float64Array(count);
  for (let k = 0; k < frames; k++) {
    sums.fill(0);
    const base = k * cells;
    for (let c = 0; c < cells; c++) sums[bandOfCell[c]!]! += trace.light[base + c]!;
    for (let b = 0; b < count; b++) light[b]![k] = sums[b]!;
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
