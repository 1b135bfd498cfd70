/** The rhythm of a light that shines in pulses, among all that its spectrum suggests. */
import { powerSpectrum } from '../numeric/spectrum.js';
import { binsFor } from './beatCurve.js';
import { distinctPhases } from './stillLight.js';

// Slower beats than this are drift, however deep.
const SLOWEST_DEEP_BEAT = 0.008;
/** Light as it comes must go round so often in a clip to be told from drift. */
export const LEAST_TURNS_IN_CLIP = 10;
const MOST_PEAKS = 14;
const LEAST_FRAMES = 20;
/** A later explanation of the light must explain so much more than the one before it. */
const CLEARLY_MORE = 0.04;
/** A faster rhythm that explains so much less, and no more than that, is the one that a slower one repeats. */
const HARDLY_LESS = 0.01;
const FEWEST_BINS = 4;
/** Rhythms that repeat within so many frames keep pace with them. */
const MOST_PACE = 6;
/** Share of the light that a rhythm which moves against the frames explains by chance (one that moves by a turn: 0.1 and more). */
const NOISE_ONLY = 1e-3;
/** Dimmers are looked for at two, three, four, six, eight times the refresh and so on. */
const MOST_TIMES = 3;
/** Frames that meet fewer phases of a rhythm are locked to it. */
const LOCKED_PHASES = 24;
/** Steps of the search for the rate of a rhythm, turns over the whole clip; eight to either side. */
const COARSE_STEPS = [0.25, 0.06] as const;
const FINE_STEPS = [0.015, 0.004] as const;
/** Bins of like phase that are enough to tell rhythms apart. */
const COARSE_BINS = 32;

/** A rhythm as the frames show it. */
export interface Rhythm {
  /** Cycles a capture period, 0..0.5. */
  readonly perFrame: number;
  /** Share of the fast variation that repeats with it, 0..1. */
  readonly explained: number;
}

/** Frames to either side whose mean is taken for the slow light, which leaves fast beats alone and takes drift out. */
export const FAST_REACH = 30;

/**
 * The rhythm that explains most of the bright frames' fast variation; null where there are too few of them.
 * @param reach frames to either side whose mean is slow light and no beat; infinite for variation as it comes.
 */
export function strongestRhythm(
  light: readonly Float64Array[],
  timesT: Float64Array,
  bright: readonly number[],
  expected: readonly number[],
  reach = FAST_REACH,
): Rhythm | null {
  if (bright.length < LEAST_FRAMES) return null;
  const parts = light.map((values) => fastPart(values, bright, reach));
  const fast = fastLightOf(parts, timesT, bright);
  const slowest = Number.isFinite(reach) ? SLOWEST_DEEP_BEAT : LEAST_TURNS_IN_CLIP / timesT.length;
  const candidates = [
    ...expected.map((perFrame) => ({ perFrame, trust: 0.01 })),
    ...spectralPeaks(parts, slowest).map((perFrame) => ({ perFrame, trust: 0 })),
  ];
  let best: Rhythm | null = null;
  let isStated = false;
  for (const { perFrame, trust } of candidates) {
    const found = refine(fast, timesT.length, perFrame, trust);
    // Later candidates are overtones or neighbours of the first.
    if (best && found.explained <= best.explained + CLEARLY_MORE) continue;
    best = found;
    isStated = trust > 0;
  }
  if (!best) return null;
  for (let i = 0; isStated && i < MOST_TIMES; i++) best = fasterOf(fast, timesT.length, best, slowest);
  // A stated rate that explains the light as well as any near it is taken at its word.
  if (expected.includes(best.perFrame)) return best;
  return { ...best, perFrame: polish(fast, timesT.length, best.perFrame) };
}

/**
 * What repeats twice in a turn repeats in the turn as well: a dimmer at a multiple of the refresh is not the refresh, though
 * the stated one is tried first.
 */
function fasterOf(fast: FastLight, frames: number, slow: Rhythm, slowest: number): Rhythm {
  const bins = Math.min(COARSE_BINS, binsFor(fast.timesT.length));
  const own = explainedBy(fast, slow.perFrame, bins);
  const phasesOf = (perFrame: number) => distinctPhases(fast.timesT, 1 / perFrame);
  const phases = phasesOf(slow.perFrame);
  for (const times of [2, 3]) {
    const perFrame = aliasOf(times * slow.perFrame);
    // As fine in time as the slower one: finer bins would take its phases apart again, in another order.
    const fewer = Math.max(FEWEST_BINS, Math.floor(bins / times));
    if (perFrame < slowest || explainedBy(fast, perFrame, fewer) < own - CLEARLY_MORE) continue;
    // Of a rhythm that is locked to the frames, another one may show the same few phases in another order.
    if (phases < LOCKED_PHASES && phasesOf(perFrame) >= phases) continue;
    const found = refine(fast, frames, perFrame, 0);
    if (explainedBy(fast, found.perFrame, fewer) > own - HARDLY_LESS) return found;
  }
  return slow;
}

/**
 * The rate by finer bins and steps: where a short exposure meets a pulse or not, a rate that is a hundredth of a turn off
 * at the ends of the clip reads as changes of the light there.
 */
function polish(fast: FastLight, frames: number, perFrame: number): number {
  const bins = binsFor(fast.timesT.length);
  const explained = (rate: number) => explainedBy(fast, rate, bins);
  const finest = climb({ perFrame, explained: explained(perFrame) }, FINE_STEPS, frames, explained);
  // A rate that meets ever new phases always explains a little more of the noise than one that keeps pace with the frames.
  const pace = Array.from({ length: MOST_PACE - 1 }, (_, i) => {
    const every = i + 2;
    return Math.round(finest.perFrame * every) / every;
  }).find((rate) => rate > 0 && Math.abs(rate - finest.perFrame) * frames < 1);
  return pace && explained(pace) > finest.explained - NOISE_ONLY ? pace : finest.perFrame;
}

/** The rhythm that explains most within some steps around one. */
function climb(
  start: Rhythm,
  steps: readonly number[],
  frames: number,
  explainedAt: (perFrame: number) => number,
): Rhythm {
  let best = start;
  for (const step of steps) {
    const centre = best.perFrame;
    for (let i = -8; i <= 8; i++) {
      const perFrame = centre + (i * step) / frames;
      if (perFrame <= 0) continue;
      const explained = explainedAt(perFrame);
      if (explained > best.explained) best = { perFrame, explained };
    }
  }
  return best;
}

/** Share of the light by which some frames vary fast (rms). */
export function fastVariation(light: readonly Float64Array[], frames: readonly number[]): number {
  let sum = 0;
  for (const values of light) {
    const fast = fastPart(values, frames, FAST_REACH);
    for (const k of frames) sum += fast[k]! ** 2;
  }
  return Math.sqrt(sum / Math.max(1, light.length * frames.length));
}

/** Cycles a capture period as the frames show them, 0..0.5. */
export function aliasOf(cyclesPerFrame: number): number {
  const f = cyclesPerFrame - Math.floor(cyclesPerFrame);
  return Math.min(f, 1 - f);
}

/** Share (0..1) of some frames' fast variation that repeats with a rhythm. */
export function explainedShare(
  light: readonly Float64Array[],
  timesT: Float64Array,
  frames: readonly number[],
  perFrame: number,
  reach = FAST_REACH,
): number {
  const parts = light.map((values) => fastPart(values, frames, reach));
  const bins = Math.min(COARSE_BINS, binsFor(frames.length));
  return explainedBy(fastLightOf(parts, timesT, frames), perFrame, bins);
}

/** Bright frames less their neighbourhood's mean over itself, 0 elsewhere; slow drift stays out. */
function fastPart(values: Float64Array, bright: readonly number[], reach: number): Float64Array {
  const out = new Float64Array(values.length);
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

/** The strongest lines of all bands together, each a candidate for the beat or one of its overtones. */
function spectralPeaks(signals: readonly Float64Array[], slowest: number): number[] {
  const spectra = signals.map((s) => powerSpectrum(s, 1));
  const { binWidth } = spectra[0]!;
  const power = new Float64Array(spectra[0]!.power.length);
  for (const s of spectra) for (let i = 0; i < power.length; i++) power[i]! += s.power[i]!;
  // One-sided power counts every line twice but that of a light that goes up and down from frame to frame.
  power[power.length - 1]! *= 2;
  const peaks: number[] = [];
  const first = Math.ceil(slowest / binWidth);
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
function refine(fast: FastLight, frames: number, candidate: number, trust: number): Rhythm {
  const bins = Math.min(COARSE_BINS, binsFor(fast.timesT.length));
  const explained = (rate: number) => explainedBy(fast, rate, bins);
  const start = { perFrame: candidate, explained: explained(candidate) + trust };
  return climb(start, COARSE_STEPS, frames, explained);
}

/** The frames that rhythms are looked for in: their times, and the fast part of all bands' light. */
interface FastLight {
  /** Capture periods; one a frame. */
  readonly timesT: Float64Array;
  readonly bands: number;
  /** `timesT.length * bands`, frame after frame. */
  readonly values: Float64Array;
  /** Sum of the squares of `values`. */
  readonly total: number;
}

function fastLightOf(
  fast: readonly Float64Array[],
  timesT: Float64Array,
  bright: readonly number[],
): FastLight {
  const values = new Float64Array(bright.length * fast.length);
  let to = 0;
  for (const k of bright) for (let b = 0; b < fast.length; b++) values[to++] = fast[b]![k]!;
  const total = values.reduce((squares, v) => squares + v * v, 0);
  return { timesT: Float64Array.from(bright, (k) => timesT[k]!), bands: fast.length, values, total };
}

/** Share of the variance that lies between bins of like phase, corrected for the number of bins. */
function explainedBy({ timesT, bands, values, total }: FastLight, perFrame: number, bins: number): number {
  const n = timesT.length;
  const sum = new Float64Array(bins * bands);
  // The bins are the same for all bands.
  const count = new Float64Array(bins);
  for (let i = 0, at = 0; i < n; i++) {
    const phase = timesT[i]! * perFrame;
    const bin = Math.min(bins - 1, Math.floor((phase - Math.floor(phase)) * bins));
    count[bin]!++;
    const to = (bin + 1) * bands;
    for (let cell = bin * bands; cell < to; cell++, at++) sum[cell]! += values[at]!;
  }
  let between = 0;
  let used = 0;
  for (let b = 0; b < bins; b++) {
    if (count[b]! === 0) continue;
    used++;
    for (let cell = b * bands; cell < (b + 1) * bands; cell++) between += sum[cell]! ** 2 / count[b]!;
  }
  return total > 0 ? 1 - (1 - between / total) * ((n - 1) / Math.max(1, n - used)) : 0;
}
