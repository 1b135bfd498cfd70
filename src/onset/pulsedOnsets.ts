/** Onsets of regions that shine in pulses: the first pulse of the clip's lattice that carries the new energy. */
import type { Trace } from '../trace/trace.js';
import { gapFlags } from './gapFlags.js';
import type { Onset, OnsetSet } from './onset.js';
import {
  fitPulseTrain,
  fullPulse,
  type LitSpan,
  looksPulsed,
  type PulsedBands,
  type PulseTrain,
  pulseEnergy,
} from './pulseTrain.js';
import type { Band, Crossing } from './windows.js';

/** One region with its main kind of change. */
export interface PulsedCandidate {
  readonly trace: Trace;
  readonly bands: { readonly whole: Band; readonly parts: readonly Band[] };
  /** Changes of that kind in time order, sign 1 to more light. */
  readonly crossings: readonly Crossing[];
  readonly kind: number;
  /** Projected signal of each kind, for drawing. */
  readonly signals: readonly Float64Array[];
}

/** What the finder needs to know. */
export interface PulsedOptions {
  readonly exposureFraction: number;
  readonly refreshHz: number | null;
  readonly level: number;
  /** Camera frames of about one refresh. */
  readonly windowFrames: number;
  /** Possible scan slopes, capture periods a pixel row, ascending. */
  readonly slopesT: readonly number[];
}

/**
 * Looks at all regions of a screen as pulses.
 * @returns null where the lit state is steady, so that ordinary edges serve.
 */
export function findPulsedOnsets(
  candidates: readonly PulsedCandidate[],
  options: PulsedOptions,
): OnsetSet[] | null {
  const periodS = candidates[0]?.trace.periodS;
  if (periodS === undefined) return null;
  const regions = candidates.map((c) => pulsedBands(c, options.windowFrames));
  const lit = regions.flatMap((r) => r.lit.flatMap(([from, to]) => [...r.whole.signal.subarray(from, to)]));
  if (!looksPulsed(lit)) return null;
  const train = fitPulseTrain(regions, periodS, options.exposureFraction, options.slopesT, options.refreshHz);
  if (!train) return null;
  return candidates.map((candidate, i) => pulsedSet(candidate, regions[i]!, train, options));
}

function pulsedBands(candidate: PulsedCandidate, windowFrames: number): PulsedBands {
  const { bands, crossings, trace } = candidate;
  return {
    whole: raise(bands.whole, crossings),
    parts: bands.parts.map((band) => raise(band, crossings)),
    topPx: trace.region.y,
    heightPx: trace.region.height,
    lit: litSpans(crossings, trace.frames, windowFrames),
  };
}

/** The band with the light between pulses at zero, so that a pulse's light is counted from there. */
function raise(band: Band, crossings: readonly Crossing[]): Band {
  const dark: number[] = [];
  for (const crossing of crossings) {
    if (crossing.sign < 0) continue;
    for (let k = Math.max(0, crossing.frame - 14); k < crossing.frame - 4; k++) dark.push(band.signal[k]!);
  }
  dark.sort((a, b) => a - b);
  const base = dark[Math.floor(dark.length / 4)] ?? 0;
  return base === 0 ? band : { ...band, signal: band.signal.map((v) => v - base) };
}

/** Frames between a change to bright and the next change back, less one refresh at each end. */
function litSpans(crossings: readonly Crossing[], frames: number, windowFrames: number): LitSpan[] {
  const spans: LitSpan[] = [];
  crossings.forEach((crossing, i) => {
    if (crossing.sign < 0) return;
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
  const full = fullPulse(train, region, trace.periodS, options.exposureFraction);
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

function pulseOnset(
  candidate: PulsedCandidate,
  region: PulsedBands,
  train: PulseTrain,
  full: number,
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
  let found: number | null = null;
  let unseen = false;
  for (let n = nearest - reach; n <= nearest + reach && found === null; n++) {
    const { energy, weight } = pulseEnergy(train, n, region, periodS, options.exposureFraction);
    if (weight < 0.05) {
      unseen = true;
      continue;
    }
    const share = energy / full;
    // A slow cell behind a strobe climbs over several pulses: the asked level decides, above what noise can do.
    if (rising ? share > Math.max(options.level, 0.3) : share < 0.5) found = n;
    else unseen = false;
  }
  if (found === null) return null;
  const at = (t: number) => t * periodS;
  const sweep = Math.abs(train.slopeT) * region.heightPx;
  const firstT = train.phaseT + found * train.periodT + first;
  const sdT = unseen ? train.periodT / Math.sqrt(12) : 0.01;
  const levelT = firstT + options.level * sweep;
  return {
    frame: crossing.frame,
    kind,
    sign: crossing.sign,
    contrast: full / Math.sqrt(noiseOf(trace, candidate.bands.whole.signal, crossing)),
    firstLightS: at(firstT),
    levelS: at(levelT),
    halfS: at(firstT + 0.5 * sweep),
    settledS: at(firstT + 0.9 * sweep),
    sdS: at(sdT),
    excessKurtosis: unseen ? -1.2 : 0,
    intervalS: [at(levelT - 1.96 * sdT), at(levelT + 1.96 * sdT)],
    before: rising ? 0 : full,
    after: rising ? full : 0,
    flags: [...gapFlags(trace, crossing.frame), ...(unseen ? ['pulse-not-seen'] : [])],
  };
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
