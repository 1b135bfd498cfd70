/** Onsets of regions that shine in pulses: the first pulse of the clip's lattice that carries the new energy. */
import type { Trace } from '../trace/trace.js';
import { type LineWeight, weightedLevelTime } from './edgeShape.js';
import { gapFlags } from './gapFlags.js';
import type { Onset, OnsetSet } from './onset.js';
import {
  type KnownPulse,
  knownPulses,
  type LitSpan,
  likePulse,
  type PulsedBands,
  type PulseTrain,
  pulseEnergy,
  pulsePhase,
} from './pulseTrain.js';
import type { Band, Crossing } from './windows.js';

/** One region with its main kind of change. */
export interface PulsedCandidate {
  readonly trace: Trace;
  readonly bands: {
    readonly whole: Band;
    readonly parts: readonly Band[];
    readonly lines: readonly LineWeight[];
  };
  /** Changes of that kind in time order, sign 1 to more light. */
  readonly crossings: readonly Crossing[];
  readonly kind: number;
  /** Projected signal of each kind, for drawing. */
  readonly signals: readonly Float64Array[];
}

/** What the finder needs to know. */
export interface PulsedOptions {
  readonly exposureFraction: number;
  readonly level: number;
  /** Camera frames of about one refresh. */
  readonly windowFrames: number;
}

/** Onsets of all regions of a tube. */
export function findPulsedOnsets(
  candidates: readonly PulsedCandidate[],
  train: PulseTrain,
  options: PulsedOptions,
): OnsetSet[] {
  return candidates.map((c) => pulsedSet(c, pulsedBands(c, options.windowFrames), train, options));
}

function pulsedBands(candidate: PulsedCandidate, windowFrames: number): PulsedBands {
  const { bands, crossings, trace } = candidate;
  const between = framesBetween(trace);
  return {
    whole: raise(bands.whole, between),
    parts: bands.parts.map((band) => raise(band, between)),
    topPx: trace.region.y,
    heightPx: trace.region.height,
    lit: litSpans(crossings, trace.frames, windowFrames, 1),
    unlit: litSpans(crossings, trace.frames, windowFrames, -1),
  };
}

/** The band with the light between pulses at zero, so that a pulse's light is counted from there. */
function raise(band: Band, between: readonly number[]): Band {
  const values = Float64Array.from(between, (k) => band.signal[k]!).sort();
  const base = values[values.length >> 1] ?? 0;
  return base === 0 ? band : { ...band, signal: band.signal.map((v) => v - base) };
}

/** Frames that lie between pulses: the darkest part of all, by the region's whole light. */
function framesBetween(trace: Trace): number[] {
  const { frames, cells, light } = trace;
  const total = new Float64Array(frames);
  for (let k = 0; k < frames; k++) {
    let sum = 0;
    for (let c = 0; c < cells; c++) sum += light[k * cells + c]!;
    total[k] = sum;
  }
  const limit = Float64Array.from(total).sort()[Math.floor(0.3 * (frames - 1))]!;
  return Array.from(total.keys()).filter((k) => total[k]! <= limit);
}

/** Frames between a change of one sign and the next change, less one refresh at each end. */
function litSpans(
  crossings: readonly Crossing[],
  frames: number,
  windowFrames: number,
  sign: 1 | -1,
): LitSpan[] {
  const spans: LitSpan[] = [];
  crossings.forEach((crossing, i) => {
    if (crossing.sign !== sign) return;
    const next = crossings[i + 1]?.frame ?? frames;
    const from = crossing.frame + windowFrames;
    const to = Math.min(next - windowFrames, from + 24 * windowFrames, frames);
    if (to - from >= 2 * windowFrames) spans.push([from, to]);
  });
  return spans;
}

function pulsedSet(
  candidate: PulsedCandidate,
  region: PulsedBands,
  train: PulseTrain,
  options: PulsedOptions,
): OnsetSet {
  const { trace, crossings, signals } = candidate;
  const full = {
    after: knownPulses(train, region, region.lit, trace.periodS, options.exposureFraction),
    before: knownPulses(train, region, region.unlit, trace.periodS, options.exposureFraction),
  };
  const sweepT = train.slopeT * region.heightPx;
  const shape = { tauT: 0, sweepT };
  const onsets = crossings.flatMap((crossing) => {
    const onset = pulseOnset(candidate, region, train, full, crossing, options);
    return onset ? [onset] : [];
  });
  return {
    region: trace.region,
    onsets: onsets.sort((a, b) => a.levelS - b.levelS),
    shapes: { rise: shape, fall: shape },
    responseTimeMs: null,
    shapeSdS: train.phaseSdT * trace.periodS,
    signals,
    light: 'pulsed',
    refreshHz: 1 / (train.periodT * trace.periodS),
    warnings: [],
  };
}

interface Pulse {
  readonly n: number;
  /** 0 in the old state, 1 in the new one. */
  readonly share: number;
  /** How clearly it tells the states apart, 0..1. */
  readonly weight: number;
}

// Step between the states over the scatter of like pulses, below which a pulse does not tell them apart.
const LEAST_CLEAR = 4;

/**
 * The first pulse of the new state: the place of a step that explains all shares best. Where pulses around it were not
 * caught, the answer is a range.
 */
function firstNewPulse(
  pulses: readonly Pulse[],
  level: number,
): { readonly first: number; readonly last: number } | null {
  const seen = pulses;
  if (seen.length < 3) return null;
  const costOf = (at: number) =>
    seen.reduce((sum, { share, weight }, i) => {
      const d = i < at ? share : share - 1;
      return sum + Math.min(weight, 0.6) * Math.min(1, d * d);
    }, 0);
  // The step lies before `seen[at]`; 0 and the end stand for no step at all, which means that the candidate is none.
  let at = 0;
  for (let i = 1; i <= seen.length; i++) if (costOf(i) < costOf(at)) at = i;
  if (at === 0 || at === seen.length) return null;
  const old = seen
    .slice(0, Math.max(1, at - 2))
    .map((p) => p.share)
    .sort((a, b) => a - b);
  const rest = old[old.length >> 1]!;
  const scatter = Math.max(...old.map((v) => Math.abs(v - rest)));
  const climbs = (p: Pulse) => p.weight > 0.4 && p.share - rest > Math.max(level, 0.12, 2 * scatter);
  while (at > 1 && climbs(seen[at - 1]!)) at--;
  return { first: seen[at - 1]!.n + 1, last: seen[at]!.n };
}

function pulseOnset(
  candidate: PulsedCandidate,
  region: PulsedBands,
  train: PulseTrain,
  full: { readonly before: readonly KnownPulse[]; readonly after: readonly KnownPulse[] },
  crossing: Crossing,
  options: PulsedOptions,
): Onset | null {
  const { trace, kind } = candidate;
  const { periodS } = trace;
  const first = Math.min(train.slopeT * region.topPx, train.slopeT * (region.topPx + region.heightPx));
  const centreT = trace.openS[crossing.frame]! / periodS - first;
  const nearest = Math.round((centreT - train.phaseT) / train.periodT);
  const reach = Math.max(2, Math.ceil((2 * options.windowFrames) / train.periodT));
  const rising = crossing.sign > 0;
  const pulses: Pulse[] = [];
  for (let n = nearest - reach; n <= nearest + reach; n++) {
    const { energy, weight } = pulseEnergy(train, n, region, periodS, options.exposureFraction);
    const phase = pulsePhase(train, n, region, periodS);
    const dark = likePulse(full.before, phase);
    const lit = likePulse(full.after, phase);
    if (weight <= 0 || !dark || !lit) continue;
    const step = lit.energy - dark.energy;
    const clear = step / Math.max(lit.scatter, dark.scatter, 0.02 * Math.abs(lit.energy), 1e-9);
    if (clear < LEAST_CLEAR) continue;
    const share = (energy - dark.energy) / step;
    pulses.push({ n, share: rising ? share : 1 - share, weight: Math.min(1, clear / (3 * LEAST_CLEAR)) });
  }
  const plateau = { before: middleOf(full.before), after: middleOf(full.after) };
  const answer = firstNewPulse(pulses, options.level);
  if (answer === null) return null;
  const found = (answer.first + answer.last) / 2;
  const unseen = answer.last > answer.first;
  const at = (t: number) => t * periodS;
  const signedSweep = train.slopeT * region.heightPx;
  const firstT = train.phaseT + found * train.periodT + first;
  const sdT = unseen ? ((answer.last - answer.first + 1) * train.periodT) / Math.sqrt(12) : 0.01;
  // A line passes every level when its first new pulse arrives, so the region's level is a matter of its lines.
  const passes = (level: number) =>
    firstT + weightedLevelTime(level, { tauT: 0, sweepT: signedSweep }, candidate.bands.lines);
  const levelT = passes(options.level);
  return {
    frame: crossing.frame,
    kind,
    sign: crossing.sign,
    contrast:
      Math.abs(plateau.after - plateau.before) /
      Math.sqrt(noiseOf(trace, candidate.bands.whole.signal, crossing)),
    firstLightS: at(firstT),
    levelS: at(levelT),
    halfS: at(passes(0.5)),
    settledS: at(passes(0.9)),
    sdS: at(sdT),
    excessKurtosis: unseen ? -1.2 : 0,
    intervalS: [at(levelT - 1.96 * sdT), at(levelT + 1.96 * sdT)],
    before: rising ? plateau.before : plateau.after,
    after: rising ? plateau.after : plateau.before,
    flags: [...gapFlags(trace, crossing.frame), ...(unseen ? ['pulse-not-seen'] : [])],
  };
}

function middleOf(pulses: readonly KnownPulse[]): number {
  const energies = pulses.map((p) => p.energy).sort((a, b) => a - b);
  return energies[energies.length >> 1] ?? 0;
}

/** Variance of the signal's dark side near a change: frame-to-frame differences of its quieter half. */
function noiseOf(trace: Trace, signal: Float64Array, crossing: Crossing): number {
  const from = Math.max(1, crossing.sign > 0 ? crossing.frame - 24 : crossing.frame + 4);
  const to = Math.min(trace.frames, from + 20);
  const differences: number[] = [];
  for (let k = from; k < to; k++) differences.push((signal[k]! - signal[k - 1]!) ** 2 / 2);
  differences.sort((a, b) => a - b);
  return Math.max(1e-8, differences[differences.length >> 1] ?? 1e-8);
}
