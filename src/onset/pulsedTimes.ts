/**
 * Changes of regions that shine once a refresh, by a tube's beam or by a backlight's flash: which pulse of the clip's
 * lattice may be the first that shows the new picture, and how much of it the next ones show.
 */
import type { Region } from '../region/region.js';
import type { Trace } from '../trace/trace.js';
import { sharesOf } from './countFlashes.js';
import { type LineWeight, weightedLevelTime } from './edgeShape.js';
import { gapFlags } from './gapFlags.js';
import type { TimedChange } from './onset.js';
import { inOrder, settlingFrames, spansBeside, stateSpans } from './pictureSpans.js';
import { pulseBandSet } from './pulseCells.js';
import { pulseCrossings } from './pulseCrossings.js';
import { changeAt, firstOf } from './pulsedChange.js';
import type { PulseForm } from './pulseForm.js';
import { isSettling, type PulseShares } from './pulseShares.js';
import { type BandStates, bandStates, type FirstPulse, unseenSpans } from './pulseStates.js';
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
  /** Camera frames of about one refresh. */
  readonly windowFrames: number;
}

/** A change with the pulses that may be its first, before any level. */
export interface PulsedEdge extends TimedChange, Pick<FirstPulse, 'chances'> {
  /** Light of the region before and after. */
  readonly before: number;
  readonly after: number;
  /** True where it is the only one of its kind and sign, of a picture whose cells settle. */
  readonly isAlone: boolean;
  /** True where the pictures beside it are not those of its kind. */
  readonly showsOtherPictures: boolean;
}

/** Changes of one kind by one explanation of the light. */
export interface TrainTimes {
  readonly train: PulseTrain;
  readonly edges: readonly PulsedEdge[];
  /** How much of a new picture each flash shows; null for a beam. */
  readonly shares: { readonly rise: PulseShares; readonly fall: PulseShares } | null;
  readonly lines: readonly LineWeight[];
  /** Spans, s, in which no pulse was caught. */
  readonly unseenS: readonly (readonly [from: number, to: number])[];
}

/** Changes of one kind of one region. */
export interface PulsedKind {
  /** One explanation of the light, or two between which it does not tell. */
  readonly trains: readonly TrainTimes[];
  /** True where no pulse is clearly seen and the changes are weak: the times are made of noise. */
  readonly isBlind: boolean;
}

/** Changes of all regions of a display that shines in pulses. */
export interface PulsedTimes {
  readonly light: 'pulsed';
  readonly periodS: number;
  readonly regions: readonly {
    readonly region: Region;
    /** The main kind first; none where nothing changes. */
    readonly kinds: readonly PulsedKind[];
    /** Projected signal of each kind. */
    readonly signals: readonly Float64Array[];
  }[];
}

const ROUNDS = 2;
// A clip in which the pulses stay unseen for this share of the time.
const BLIND = 0.95;
// Changes below this, over the noise of a frame, are weak (as the fitness says).
const WEAK_CONTRAST = 8;
// Pictures beside a change that are off from those of its kind by this share of the step are others.
const OTHER_PICTURE = 0.3;

/**
 * Changes of one kind of one region.
 * @param trains a train, and another one that explains the light as well where there is one.
 */
export function pulsedKindTimes(
  candidate: PulsedCandidate,
  trains: readonly PulseTrain[],
  options: PulsedOptions,
): PulsedKind {
  const times = trains.map((train) => trainTimes(candidate, train, options));
  // A beam draws at once: where flashes show the new picture step by step, it is cells that settle.
  const settling = times.find(({ shares }) => shares && (isSettling(shares.rise) || isSettling(shares.fall)));
  return {
    trains: settling ? [settling] : times,
    isBlind: times.every((t) => isBlind(t, candidate.trace)),
  };
}

/** When a region's response has passed a level (0..1) in the pulse number 0 of a form, capture periods. */
export function passesAt(
  { phaseT, slopeT }: PulseForm,
  { y: topPx, height: heightPx }: Region,
  lines: readonly LineWeight[],
  level: number,
): number {
  return (
    phaseT +
    Math.min(slopeT * topPx, slopeT * (topPx + heightPx)) +
    weightedLevelTime(level, { tauT: 0, sweepT: slopeT * heightPx }, lines)
  );
}

function trainTimes(candidate: PulsedCandidate, train: PulseTrain, options: PulsedOptions): TrainTimes {
  const { trace, bands, kind } = candidate;
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
  const halfT = passesAt(train, trace.region, view.lines, 0.5);
  const changes =
    states.length === 0
      ? []
      : crossings.flatMap((crossing) =>
          changeAt(trace, all, states, train, halfT, all.indexOf(crossing), options.windowFrames),
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
  const step = meanOf(states, (s) => Math.abs(s.bright - s.dim));
  const dim = meanOf(states, (s) => s.dim);
  const bright = meanOf(states, (s) => s.bright);
  const edges = changes.flatMap((change): PulsedEdge[] => {
    const { crossing } = change;
    const { frame, sign } = crossing;
    const own = shares?.[sign > 0 ? 'rise' : 'fall'] ?? null;
    const { chances, isStep } = firstOf(change, states, train, own, trace.periodS);
    // No step at all explains the light best: the candidate is none.
    if (!isStep) return [];
    const noise = Math.sqrt(noiseOf(trace, bands.whole.signal, crossing));
    return [
      {
        ...{ frame, sign, kind, chances },
        contrast: step / noise,
        before: sign > 0 ? dim : bright,
        after: sign > 0 ? bright : dim,
        gaps: gapFlags(trace, frame),
        isAlone: isAlone(sign),
        showsOtherPictures: showsOtherPictures(crossing),
      },
    ];
  });
  return { train, edges, shares, lines: view.lines, unseenS: unseenSpans(states, train, trace.periodS) };
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
function isBlind({ edges, unseenS }: TrainTimes, { frames, periodS }: Trace): boolean {
  const isWeak = edges.every((e) => e.contrast < WEAK_CONTRAST);
  return isWeak && unseenS.some(([fromS, toS]) => toS - fromS > BLIND * frames * periodS);
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
