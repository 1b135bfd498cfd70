/** The rhythm of a light that shines in pulses, among all that its spectrum suggests. */
import { powerSpectrum } from '../numeric/spectrum.js';
import { binsFor } from './beatCurve.js';

// Slower beats than this are drift, however deep.
const SLOWEST_DEEP_BEAT = 0.008;
/** Light as it comes must go round so often in a clip to be told from drift. */
export const LEAST_TURNS_IN_CLIP = 10;
const MOST_PEAKS = 14;
const LEAST_FRAMES = 20;
/** A later explanation of the light must explain so much more than the one before it. */
const CLEARLY_MORE = 0.04;
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
  const fast = light.map((values) => fastPart(values, bright, reach));
  const slowest = Number.isFinite(reach) ? SLOWEST_DEEP_BEAT : LEAST_TURNS_IN_CLIP / timesT.length;
  const candidates = [
    ...expected.map((perFrame) => ({ perFrame, trust: 0.01 })),
    ...spectralPeaks(fast, slowest).map((perFrame) => ({ perFrame, trust: 0 })),
  ];
  let best: Rhythm | null = null;
  for (const { perFrame, trust } of candidates) {
    const found = refine(fast, timesT, bright, perFrame, trust);
    // Later candidates are overtones or neighbours of the first.
    if (!best || found.explained > best.explained + CLEARLY_MORE) best = found;
  }
  // A stated rate that explains the light as well as any near it is taken at its word.
  if (!best || expected.includes(best.perFrame)) return best;
  return { ...best, perFrame: polish(fast, timesT, bright, best.perFrame) };
}

/**
 * The rate by finer bins and steps: where a short exposure meets a pulse or not, a rate that is a hundredth of a turn off
 * at the ends of the clip reads as changes of the light there.
 */
function polish(
  fast: readonly Float64Array[],
  timesT: Float64Array,
  bright: readonly number[],
  perFrame: number,
): number {
  const bins = binsFor(bright.length);
  const explained = (rate: number) => explainedBy(fast, timesT, bright, rate, bins);
  return climb({ perFrame, explained: explained(perFrame) }, FINE_STEPS, timesT.length, explained).perFrame;
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

/** Share (0..1) of some frames' fast variation that repeats with a rhythm. */
export function explainedShare(
  light: readonly Float64Array[],
  timesT: Float64Array,
  frames: readonly number[],
  perFrame: number,
  reach = FAST_REACH,
): number {
  const fast = light.map((values) => fastPart(values, frames, reach));
  return explainedBy(fast, timesT, frames, perFrame, Math.min(COARSE_BINS, binsFor(frames.length)));
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
function refine(
  fast: readonly Float64Array[],
  timesT: Float64Array,
  bright: readonly number[],
  candidate: number,
  trust: number,
): Rhythm {
  const explained = (rate: number) =>
    explainedBy(fast, timesT, bright, rate, Math.min(COARSE_BINS, binsFor(bright.length)));
  const start = { perFrame: candidate, explained: explained(candidate) + trust };
  return climb(start, COARSE_STEPS, timesT.length, explained);
}

/** Share of the variance that lies between bins of like phase, corrected for the number of bins. */
function explainedBy(
  fast: readonly Float64Array[],
  timesT: Float64Array,
  bright: readonly number[],
  perFrame: number,
  bins: number,
): number {
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
