/**
 * Onsets of regions that shine once a refresh, by a tube's beam or by a backlight's flash: the first pulse of the clip's
 * lattice that shows the new picture, or enough of it.
 */
import type { Trace } from '../trace/trace.js';
import { firstWith, flashesPassing, sharesOf } from './countFlashes.js';
import { type LineWeight, weightedLevelTime } from './edgeShape.js';
import { eitherOf } from './eitherTrain.js';
import { gapFlags } from './gapFlags.js';
import { ONLY_ONE, type Onset, type OnsetSet, UNSEEN } from './onset.js';
import { inOrder, settlingFrames, spansBeside, stateSpans } from './pictureSpans.js';
import { pulseBandSet } from './pulseCells.js';
import { pulseCrossings } from './pulseCrossings.js';
import { changeAt, firstOf, type PulsedChange } from './pulsedChange.js';
import type { PulseForm } from './pulseForm.js';
import { isSettling, type PulseShares } from './pulseShares.js';
import { type BandStates, bandStates, unseenSpans } from './pulseStates.js';
import type { PulseTrain } from './pulseTrain.js';
import { distinctPhases } from './stillLight.js';
import type { Band, Crossing } from './windows.js';

/** One region with one kind of change. */
export interface PulsedCandidate {
  readonly trace: Trace;
  readonly bands: {
    readonly whole: Band;
    readonly parts: readonly Band[];
    readonly lines: readonly LineWeight[];
  };
  /** Changes of that kind in time order, sign 1 to more light. */
  readonly crossings: readonly Crossing[];
  /** Changes of other kinds, where the picture has more than two states (a menu); none where it goes to and fro. */
  readonly others: readonly Crossing[];
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
// Flashes follow each other closely on fast displays: below this spread (capture periods) their time is known all the same.
const SPREAD_T = 0.4;
const ROUNDS = 2;
// A clip in which the pulses stay unseen for this share of the time.
const BLIND = 0.95;
// Changes below this, over the noise of a frame, are weak (as the fitness says).
const WEAK_CONTRAST = 8;
// Pictures beside a change that are off from those of its kind by this share of the step are others.
const OTHER_PICTURE = 0.3;

/**
 * Onsets of all regions.
 * @param rival another train that explains the light as well: where the two answers differ, both are counted.
 */
export function findPulsedOnsets(
  candidates: readonly PulsedCandidate[],
  train: PulseTrain,
  rival: PulseTrain | null,
  options: PulsedOptions,
): OnsetSet[] {
  const trains = rival ? [train, rival] : [train];
  return candidates.map((candidate) => {
    const sets = trains.map((t) => pulsedSet(candidate, t, options));
    // A beam draws at once: where flashes show the new picture step by step, it is cells that settle.
    const settling = sets.find((s) => s.isSettling);
    const [one, other] = settling ? [settling.set] : sets.map((s) => s.set);
    const set = other ? eitherOf(one!, other, train.periodT * candidate.trace.periodS) : one!;
    return sets.every((s) => isBlind(s.set, candidate.trace)) ? allUnseen(set) : set;
  });
}

function pulsedSet(
  candidate: PulsedCandidate,
  train: PulseTrain,
  options: PulsedOptions,
): { set: OnsetSet; isSettling: boolean } {
  const { trace, signals, bands } = candidate;
  const { y: topPx, height: heightPx } = trace.region;
  const { others } = candidate;
  const isFlash = train.slopeT === 0;
  const settleFrames = isFlash
    ? settlingFrames(inOrder(candidate.crossings, others), trace.periodS, options.windowFrames)
    : options.windowFrames;
  const between = framesBetween(trace);
  const spansOf = (crossings: readonly Crossing[]) =>
    others.length > 0
      ? spansBeside(crossings, inOrder(candidate.crossings, others), trace.frames, settleFrames)
      : {
          bright: stateSpans(crossings, trace.frames, settleFrames, 1),
          dim: stateSpans(crossings, trace.frames, settleFrames, -1),
        };
  // Candidates were found without knowing the pulses. With them every change shows, and the more of them are known, the
  // better the two pictures are.
  let crossings = candidate.crossings;
  let view: { readonly parts: readonly Band[]; readonly lines: readonly LineWeight[] } = bands;
  for (let round = 0; round < ROUNDS; round++) {
    const found = pulseBandSet(trace, train, spansOf(crossings));
    if (found) view = { parts: found.parts.map((band) => raise(band, between)), lines: found.lines };
    // Of more than two pictures, the one before and the one after each change are all that belongs to it.
    if (others.length > 0) break;
    crossings = pulseCrossings({ topPx, heightPx, parts: view.parts }, train, trace.periodS) ?? crossings;
  }
  const all = inOrder(crossings, others);
  const region = { topPx, heightPx, parts: view.parts };
  const states = bandStates(region, train, spansOf(crossings), trace.periodS);
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
  const changes =
    states.length === 0
      ? []
      : crossings.flatMap((crossing) =>
          changeAt(trace, all, states, train, levels.half, all.indexOf(crossing), options.windowFrames),
        );
  const shares =
    isFlash && changes.length > 0
      ? sharesOf(changes, states, train, view.lines, trace.periodS, keepsPace(trace, train))
      : null;
  // How cells settle is measured on changes of one kind and sign: one alone says nothing about it.
  const isAlone = (sign: 1 | -1) =>
    shares !== null && others.length > 0 && changes.filter((c) => c.crossing.sign === sign).length < 2;
  // Changes may point the same way and yet lead from one other picture to another.
  const showsOtherPictures = (crossing: Crossing): boolean => {
    if (others.length === 0) return false;
    const own = bandStates(region, train, spansOf([crossing]), trace.periodS);
    if (own.length !== states.length) return false;
    const off = meanOf(own, ({ dim, bright }, b) =>
      Math.max(Math.abs(dim - states[b]!.dim), Math.abs(bright - states[b]!.bright)),
    );
    return off > OTHER_PICTURE * meanOf(states, (s) => Math.abs(s.bright - s.dim));
  };
  const onsets = changes.flatMap((change) => {
    const onset = pulseOnset(
      { ...candidate, crossings },
      change,
      states,
      train,
      levels,
      shares?.[change.crossing.sign > 0 ? 'rise' : 'fall'] ?? null,
      options,
    );
    if (!onset) return [];
    const doubts = [
      ...(isAlone(onset.sign) ? [ONLY_ONE] : []),
      ...(showsOtherPictures(change.crossing) && !onset.flags.includes(UNSEEN) ? [UNSEEN] : []),
    ];
    return [{ ...onset, flags: [...onset.flags, ...doubts] }];
  });
  // Locked to the camera, a lattice may be explained by pulses of any length; yet each is over before the next one.
  const atMost = (d: number) => Math.max(-train.periodT, Math.min(train.periodT, d));
  const spread = train.draws.map((form) => atMost(passes(form, options.level) - levels.level));
  const variance = spread.reduce((sum, d) => sum + d * d, 0) / Math.max(1, spread.length);
  const set: OnsetSet = {
    region: trace.region,
    onsets: onsets.sort((a, b) => a.levelS - b.levelS),
    shapes: { rise: shape, fall: shape },
    responseTimeMs: null,
    shapeSdS: Math.hypot(Math.sqrt(variance), 0.02, (LINE_SD * sweepT) / view.lines.length) * trace.periodS,
    signals,
    light: 'pulsed',
    refreshHz: 1 / (train.periodT * trace.periodS),
    shutter: { fraction: train.exposure, sd: train.exposureSd },
    unseenS: unseenSpans(states, train, trace.periodS),
    warnings: [],
  };
  return { set, isSettling: shares !== null && (isSettling(shares.rise) || isSettling(shares.fall)) };
}

/** Whether each pulse comes at the same phase of a frame, so that the same part of each is seen. */
function keepsPace({ frames }: Trace, { periodT }: PulseTrain): boolean {
  const pulsesT = Float64Array.from({ length: Math.floor(frames / periodT) }, (_, n) => n * periodT);
  return distinctPhases(pulsesT, 1) === 1;
}

/**
 * Where no pulse is clearly seen and the changes are weak, the train is made of noise and so are the times on it. Changes
 * that stand out are no noise: coding errors make a train fit badly, and then no pulse of it counts as clearly seen.
 */
function isBlind({ onsets, unseenS = [] }: OnsetSet, { frames, periodS }: Trace): boolean {
  const isWeak = onsets.every((o) => o.contrast < WEAK_CONTRAST);
  return isWeak && unseenS.some(([fromS, toS]) => toS - fromS > BLIND * frames * periodS);
}

function allUnseen(set: OnsetSet): OnsetSet {
  const onsets = set.onsets.map((o) => ({ ...o, flags: [...new Set([...o.flags, UNSEEN])] }));
  return { ...set, onsets };
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

function pulseOnset(
  { trace, kind, bands }: PulsedCandidate,
  change: PulsedChange,
  states: readonly BandStates[],
  train: PulseTrain,
  levels: { readonly first: number; readonly level: number; readonly half: number; readonly settled: number },
  shares: PulseShares | null,
  { level }: PulsedOptions,
): Onset | null {
  const { crossing } = change;
  const { periodS } = trace;
  const { periodT } = train;
  const rising = crossing.sign > 0;
  const { chances, isStep } = firstOf(change, states, train, shares, periodS);
  const best = chances.reduce((a, b) => (b.chance > a.chance ? b : a));
  // No step at all explains the light best: the candidate is none.
  if (!isStep) return null;
  const passing = shares ? flashesPassing(chances, shares, level) : chances;
  const likely = passing.reduce((a, b) => (b.chance > a.chance ? b : a));
  const mean = passing.reduce((sum, c) => sum + c.chance * c.pulse, 0);
  const variance = passing.reduce((sum, c) => sum + c.chance * (c.pulse - mean) ** 2, 0);
  const fourth = passing.reduce((sum, c) => sum + c.chance * (c.pulse - mean) ** 4, 0);
  const sure = likely.chance >= SURE;
  const pulse = sure ? likely.pulse : mean;
  const sdT = Math.hypot(Math.sqrt(variance + (mean - pulse) ** 2) * periodT, 0.01);
  const unseen = !sure && (!shares || sdT > SPREAD_T);
  const at = (t: number, number = pulse) => (t + number * periodT) * periodS;
  const ends = passing.filter((c) => c.chance > 0.02).map((c) => (c.pulse - pulse) * periodT);
  const later = (share: number) => (shares ? Math.max(pulse, best.pulse + firstWith(shares, share)) : pulse);
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
    halfS: at(levels.half, later(0.5)),
    settledS: at(levels.settled, later(0.9)),
    sdS: sdT * periodS,
    excessKurtosis: sure ? 0 : Math.max(-2, fourth / variance ** 2 - 3),
    intervalS: [
      at(levels.level + Math.min(0, ...ends) - 0.02),
      at(levels.level + Math.max(0, ...ends) + 0.02),
    ],
    before: rising ? plateaus.dim : plateaus.bright,
    after: rising ? plateaus.bright : plateaus.dim,
    flags: [...gapFlags(trace, crossing.frame), ...(unseen ? [UNSEEN] : [])],
  };
}

function meanOf(states: readonly BandStates[], of: (s: BandStates, band: number) => number): number {
  return states.reduce((sum, s, band) => sum + of(s, band) / states.length, 0);
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
