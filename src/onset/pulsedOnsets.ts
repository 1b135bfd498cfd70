/** Onsets of regions that a tube's beam lights: the first pulse of the clip's lattice that shows the new picture. */
import type { Trace } from '../trace/trace.js';
import { type LineWeight, weightedLevelTime } from './edgeShape.js';
import { gapFlags } from './gapFlags.js';
import type { Onset, OnsetSet } from './onset.js';
import { pulseBandSet } from './pulseCells.js';
import { pulseCrossings } from './pulseCrossings.js';
import { type BandStates, bandStates, firstPulse, type StateSpan } from './pulseStates.js';
import type { PulseForm, PulseTrain } from './pulseTrain.js';
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
  readonly level: number;
  /** Camera frames of about one refresh. */
  readonly windowFrames: number;
}

// Where a change begins within a row of cells is known to this part of the row.
const LINE_SD = 0.25;
// A pulse that is the first of the new picture with less than this chance is not known to be it.
const SURE = 0.95;

/** Onsets of all regions of a tube. */
export function findPulsedOnsets(
  candidates: readonly PulsedCandidate[],
  train: PulseTrain,
  options: PulsedOptions,
): OnsetSet[] {
  return candidates.map((c) => pulsedSet(c, train, options));
}

function pulsedSet(candidate: PulsedCandidate, train: PulseTrain, options: PulsedOptions): OnsetSet {
  const { trace, signals, bands } = candidate;
  const { y: topPx, height: heightPx } = trace.region;
  const between = framesBetween(trace);
  const spansOf = (crossings: readonly Crossing[]) => ({
    bright: stateSpans(crossings, trace.frames, options.windowFrames, 1),
    dim: stateSpans(crossings, trace.frames, options.windowFrames, -1),
  });
  // Candidates were found without knowing the pulses. With them every change shows, and the more of them are known, the
  // better the two pictures are.
  let crossings = candidate.crossings;
  let view: { readonly parts: readonly Band[]; readonly lines: readonly LineWeight[] } = bands;
  for (let round = 0; round < 2; round++) {
    const found = pulseBandSet(trace, train, spansOf(crossings));
    if (found) view = { parts: found.parts.map((band) => raise(band, between)), lines: found.lines };
    crossings = pulseCrossings({ topPx, heightPx, parts: view.parts }, train, trace.periodS) ?? crossings;
  }
  const region = { topPx, heightPx, parts: view.parts };
  const spans = spansOf(crossings);
  const states = bandStates(region, train, spans, trace.periodS);
  const passes = (form: PulseForm, level: number) =>
    form.phaseT +
    Math.min(form.slopeT * topPx, form.slopeT * (topPx + heightPx)) +
    weightedLevelTime(level, { tauT: 0, sweepT: form.slopeT * heightPx }, view.lines);
  const levels = {
    first: passes(train, 0),
    level: passes(train, options.level),
    half: passes(train, 0.5),
    settled: passes(train, 0.9),
  };
  const sweepT = train.slopeT * heightPx;
  const shape = { tauT: 0, sweepT };
  const onsets = crossings.flatMap((_crossing, i) => {
    const onset = pulseOnset({ ...candidate, crossings }, states, train, levels, i, options);
    return onset ? [onset] : [];
  });
  const spread = train.draws.map((form) => passes(form, options.level) - levels.level);
  const variance = spread.reduce((sum, d) => sum + d * d, 0) / Math.max(1, spread.length);
  return {
    region: trace.region,
    onsets: onsets.sort((a, b) => a.levelS - b.levelS),
    shapes: { rise: shape, fall: shape },
    responseTimeMs: null,
    shapeSdS: Math.hypot(Math.sqrt(variance), 0.02, (LINE_SD * sweepT) / view.lines.length) * trace.periodS,
    signals,
    light: 'pulsed',
    refreshHz: 1 / (train.periodT * trace.periodS),
    shutter: { fraction: train.exposure, sd: train.exposureSd },
    warnings: [],
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
function stateSpans(
  crossings: readonly Crossing[],
  frames: number,
  windowFrames: number,
  sign: 1 | -1,
): StateSpan[] {
  const spans: StateSpan[] = [];
  crossings.forEach((crossing, i) => {
    const next = crossings[i + 1]?.frame ?? frames;
    if (i === 0 && crossing.sign !== sign) {
      spans.push([Math.max(0, crossing.frame - 12 * windowFrames), crossing.frame - windowFrames]);
    }
    if (crossing.sign !== sign) return;
    const from = crossing.frame + windowFrames + 1;
    const to = Math.min(next - windowFrames, from + 24 * windowFrames, frames);
    spans.push([from, to]);
  });
  return spans.filter(([from, to]) => to > from);
}

function pulseOnset(
  { trace, kind, bands, crossings }: PulsedCandidate,
  states: readonly BandStates[],
  train: PulseTrain,
  levels: { readonly first: number; readonly level: number; readonly half: number; readonly settled: number },
  index: number,
  { windowFrames }: PulsedOptions,
): Onset | null {
  const crossing = crossings[index]!;
  const { periodS, frames } = trace;
  const { periodT } = train;
  if (states.length === 0) return null;
  const rising = crossing.sign > 0;
  const reach = Math.max(2, Math.ceil((2 * windowFrames) / periodT));
  const nearest = Math.round((trace.openS[crossing.frame]! / periodS - levels.half) / periodT);
  // The frames looked at end where the change before has surely settled and where the next one may begin.
  const previous = crossings[index - 1]?.frame ?? Number.NEGATIVE_INFINITY;
  const next = crossings[index + 1]?.frame ?? Number.POSITIVE_INFINITY;
  const wide = Math.ceil((reach + 2) * periodT);
  const from = Math.max(0, crossing.frame - wide, previous + Math.ceil(periodT) + 2);
  const to = Math.min(frames, crossing.frame + wide, next - Math.ceil(periodT));
  if (to - from < 3 || from >= crossing.frame || to <= crossing.frame) return null;
  const { chances } = firstPulse(
    states,
    train,
    rising,
    [from, to],
    [nearest - reach, nearest + reach],
    periodS,
  );
  const likely = chances.reduce((a, b) => (b.chance > a.chance ? b : a));
  // No step at all explains the light best: the candidate is none.
  if (likely.pulse <= nearest - reach || likely.pulse >= nearest + reach) return null;
  const mean = chances.reduce((sum, c) => sum + c.chance * c.pulse, 0);
  const variance = chances.reduce((sum, c) => sum + c.chance * (c.pulse - mean) ** 2, 0);
  const fourth = chances.reduce((sum, c) => sum + c.chance * (c.pulse - mean) ** 4, 0);
  const unseen = likely.chance < SURE;
  const pulse = unseen ? mean : likely.pulse;
  const sdT = Math.hypot(Math.sqrt(variance + (mean - pulse) ** 2) * periodT, 0.01);
  const at = (t: number) => (t + pulse * periodT) * periodS;
  const ends = chances.filter((c) => c.chance > 0.02).map((c) => (c.pulse - pulse) * periodT);
  const step = meanOf(states, (s) => Math.abs(s.bright - s.dim));
  const noise = Math.sqrt(noiseOf(trace, bands.whole.signal, crossing));
  const plateaus = { dim: meanOf(states, (s) => s.dim), bright: meanOf(states, (s) => s.bright) };
  return {
    frame: crossing.frame,
    kind,
    sign: crossing.sign,
    contrast: step / noise,
    firstLightS: at(levels.first),
    levelS: at(levels.level),
    halfS: at(levels.half),
    settledS: at(levels.settled),
    sdS: sdT * periodS,
    excessKurtosis: unseen ? Math.max(-2, fourth / variance ** 2 - 3) : 0,
    intervalS: [
      at(levels.level + Math.min(0, ...ends) - 0.02),
      at(levels.level + Math.max(0, ...ends) + 0.02),
    ],
    before: rising ? plateaus.dim : plateaus.bright,
    after: rising ? plateaus.bright : plateaus.dim,
    flags: [...gapFlags(trace, crossing.frame), ...(unseen ? ['pulse-not-seen'] : [])],
  };
}

function meanOf(states: readonly BandStates[], of: (s: BandStates) => number): number {
  return states.reduce((sum, s) => sum + of(s) / states.length, 0);
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
