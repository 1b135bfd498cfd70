/** How a band's light goes with the phase of a beat: the curve of its bright state, and of its dim one. */
import type { SteadyFrames } from './steadyFrames.js';

// Frames to a bin of like phase, and the limits of their number.
const FRAMES_PER_BIN = 24;
const BINS = [16, 96] as const;
// Phases that no frame met are bridged over so much of a beat, between levels that differ by less than this (judgement).
const LONGEST_BRIDGE = 0.3;
const BRIDGED_LIKE = 0.7;
const LEAST_MET = 0.5;

/** Number of bins of like phase for so many frames. */
export function binsFor(frames: number): number {
  return Math.max(BINS[0], Math.min(BINS[1], Math.floor(frames / FRAMES_PER_BIN)));
}

interface Knot {
  /** Mean phase of the bin's frames. */
  readonly phase: number;
  /** Light of the bright state, and of the dim one where there is one. */
  readonly high: number;
  readonly low: number | null;
}

/** Gain of one band over the beat, from its bright state; what bright and dim have in common does not follow it. */
export function beatCurve(
  values: Float64Array,
  timesT: Float64Array,
  perFrame: number,
  { bright, dim }: SteadyFrames,
): { gain: Float32Array; dimLight: Float32Array | null; steady: number; depth: number } {
  const phases = timesT.map((t) => t * perFrame - Math.floor(t * perFrame));
  const bins = binsFor(bright.length);
  const binOf = (phase: number) => Math.min(bins - 1, Math.floor(phase * bins));
  const members: number[][] = Array.from({ length: bins }, () => []);
  phases.forEach((phase, k) => {
    members[binOf(phase)]!.push(k);
  });
  const state = new Uint8Array(values.length);
  for (const k of dim) state[k] = 1;
  for (const k of bright) state[k] = 2;
  const knots = members.map((frames): Knot | null => {
    const inBright = frames.filter((k) => state[k] === 2);
    if (inBright.length < 3) return null;
    const inDim = frames.filter((k) => state[k] === 1);
    return {
      phase: inBright.reduce((s, k) => s + phases[k]! / inBright.length, 0),
      high: medianOf(inBright.map((k) => values[k]!)),
      low: inDim.length < 3 ? null : medianOf(inDim.map((k) => values[k]!)),
    };
  });
  const filled = knots.filter((q) => q !== null);
  // One state alone: what is left in the darkest phase of deep pulses does not follow them.
  const least = Math.min(...filled.map((q) => q.high));
  const most = Math.max(...filled.map((q) => q.high));
  const steady = dim.length === 0 && most > 4 * least ? least : commonSteady(filled);
  const bridged = bridgeGaps(knots);
  const curve = (of: (q: Knot) => number) => {
    const level = bridged.map((q) => (q ? Math.max(0, of(q)) : null));
    return Float32Array.from(phases, (phase) => gainAt(phase, binOf(phase), bridged, level));
  };
  const meanOf = (of: (q: Knot) => number) => filled.reduce((a, q) => a + of(q), 0) / filled.length;
  const brightMean = meanOf((q) => q.high - steady);
  if (!(brightMean > 0))
    return { gain: new Float32Array(values.length).fill(1), dimLight: null, steady, depth: 0 };
  const brightGain = curve((q) => q.high - steady).map((g) => g / brightMean);
  const top = upperGain(brightGain);
  const bottom = Float32Array.from(brightGain).sort()[Math.floor(0.03 * (brightGain.length - 1))]!;
  const depth = (top - bottom) / (top + bottom);
  const stepMean = meanOf((q) => q.high - (q.low ?? q.high));
  const both = filled.every((q) => q.low !== null) && stepMean > 0.3 * brightMean;
  if (!both) return { gain: brightGain, dimLight: null, steady, depth };
  const gain = curve((q) => q.high - q.low!).map((g) => g / stepMean);
  return { gain, dimLight: curve((q) => q.low! - steady), steady, depth };
}

/**
 * Phases that too few bright frames met lie between the phases beside them, where those hardly differ. Else they stay
 * unknown, and read as dark: the light may have gone out there.
 */
function bridgeGaps(knots: readonly (Knot | null)[]): (Knot | null)[] {
  const n = knots.length;
  const known = knots.flatMap((knot, bin) => (knot ? [{ knot, bin }] : []));
  const alike = (list: readonly Knot[]) =>
    Math.min(...list.map((q) => q.high)) > BRIDGED_LIKE * Math.max(...list.map((q) => q.high));
  // Light that hardly moves in most of a beat will not go out in the rest of it.
  const isShallow = known.length >= LEAST_MET * n && alike(known.map((q) => q.knot));
  const out = [...knots];
  known.forEach((from, i) => {
    const to = known[(i + 1) % known.length]!;
    const gap = ((to.bin - from.bin + n - 1) % n) + 1;
    if (!isShallow && (gap > LONGEST_BRIDGE * n || !alike([from.knot, to.knot]))) return;
    for (let d = 1; d < gap; d++) {
      const bin = (from.bin + d) % n;
      const between = (a: number, b: number) => a + (d / gap) * (b - a);
      const { low } = from.knot;
      out[bin] = {
        phase: (bin + 0.5) / n,
        high: between(from.knot.high, to.knot.high),
        low: low === null || to.knot.low === null ? null : between(low, to.knot.low),
      };
    }
  });
  return out;
}

/** Gain at a phase: on the line to the next bin, where that one is filled as well (a locked beat fills only some). */
function gainAt(
  phase: number,
  bin: number,
  knots: readonly (Knot | null)[],
  level: readonly (number | null)[],
): number {
  const own = knots[bin];
  if (!own) return 0;
  const n = knots.length;
  const side = phase < own.phase ? -1 : 1;
  const next = knots[(bin + side + n) % n];
  const here = level[bin]!;
  if (!next) return here;
  let distance = (next.phase - own.phase) * side;
  if (distance < 0) distance += 1;
  const t = distance > 1e-9 ? Math.min(1, ((phase - own.phase) * side) / distance) : 0;
  return here + t * (level[(bin + side + n) % n]! - here);
}

/**
 * Light that both states share: `high = steady + ratio * (low - steady)` over the beat. Where the states differ too
 * little, or the beat is too shallow to tell, the pulses are taken to carry all light.
 */
function commonSteady(knots: readonly Knot[]): number {
  const both = knots.filter((k) => k.low !== null) as readonly { low: number; high: number }[];
  const n = both.length;
  // Pulses locked to the frames show two phases or a few, each many times.
  if (n < 2) return 0;
  const low = both.reduce((s, k) => s + k.low / n, 0);
  const high = both.reduce((s, k) => s + k.high / n, 0);
  let lh = 0;
  let hh = 0;
  for (const k of both) {
    lh += (k.low - low) * (k.high - high);
    hh += (k.high - high) ** 2;
  }
  const floor = Math.min(...both.map((k) => k.low));
  const slope = hh > 0 ? Math.max(0, lh / hh) : 1;
  if (slope > 0.9) return 0;
  return Math.max(0, Math.min(floor, (low - slope * high) / (1 - slope)));
}

function medianOf(values: number[]): number {
  values.sort((a, b) => a - b);
  return values[values.length >> 1]!;
}

/** The gain of the brightest phases. */
export function upperGain(gain: Float32Array): number {
  return Float32Array.from(gain).sort()[Math.floor(0.97 * (gain.length - 1))]!;
}
