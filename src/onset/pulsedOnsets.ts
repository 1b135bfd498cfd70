/**
 * Onsets of regions that shine once a refresh, at a response level: the first pulse of the clip's lattice that shows the
 * new picture, or enough of it.
 */
import type { Region } from '../region/region.js';
import { firstWith, flashesPassing } from './countFlashes.js';
import { eitherOf } from './eitherTrain.js';
import { noOnsets, ONLY_ONE, type Onset, type OnsetSet, UNSEEN } from './onset.js';
import {
  type PulsedEdge,
  type PulsedKind,
  type PulsedTimes,
  passesAt,
  type TrainTimes,
} from './pulsedTimes.js';

// Where a change begins within a row of cells is known to this part of the row.
const LINE_SD = 0.25;
// A pulse that is the first of the new picture with less than this chance is not known to be it.
const SURE = 0.95;
// Flashes follow each other closely on fast displays: below this spread (capture periods) their time is known all the same.
const SPREAD_T = 0.4;

/**
 * One set a region.
 * @param level 0..1.
 */
export function pulsedOnsets({ regions, periodS }: PulsedTimes, level: number): OnsetSet[] {
  return regions.map(({ region, kinds, signals }) => {
    const sets = kinds.map((kind) => kindSet(kind, region, signals, periodS, level));
    const [main] = sets;
    if (!main) return noOnsets(region, signals);
    const onsets = sets.flatMap((set) => set.onsets).sort((a, b) => a.levelS - b.levelS);
    return { ...main, onsets };
  });
}

function kindSet(
  { trains, isBlind }: PulsedKind,
  region: Region,
  signals: readonly Float64Array[],
  periodS: number,
  level: number,
): OnsetSet {
  const sets = trains.map((times) => trainSet(times, region, signals, periodS, level));
  const [one, other] = sets;
  // Where two trains explain the light alike, both answers are counted.
  const set = other ? eitherOf(one!, other, trains[0]!.train.periodT * periodS) : one!;
  return isBlind ? allUnseen(set) : set;
}

function trainSet(
  times: TrainTimes,
  region: Region,
  signals: readonly Float64Array[],
  periodS: number,
  level: number,
): OnsetSet {
  const { train, lines, unseenS } = times;
  const passes = (share: number) => passesAt(train, region, lines, share);
  const levels = { first: passes(0), level: passes(level), half: passes(0.5), settled: passes(0.9) };
  const sweepT = train.slopeT * region.height;
  const shape = { tauT: 0, sweepT };
  const onsets = times.edges.map((edge) => pulseOnset(edge, times, levels, periodS, level));
  // Locked to the camera, a lattice may be explained by pulses of any length; yet each is over before the next one.
  const atMost = (d: number) => Math.max(-train.periodT, Math.min(train.periodT, d));
  const spread = train.draws.map((form) => atMost(passesAt(form, region, lines, level) - levels.level));
  const variance = spread.reduce((sum, d) => sum + d * d, 0) / Math.max(1, spread.length);
  return {
    ...{ region, signals, unseenS },
    onsets: onsets.sort((a, b) => a.levelS - b.levelS),
    shapes: { rise: shape, fall: shape },
    responseTimeMs: null,
    shapeSdS: Math.hypot(Math.sqrt(variance), 0.02, (LINE_SD * sweepT) / lines.length) * periodS,
    light: 'pulsed',
    refreshHz: 1 / (train.periodT * periodS),
    shutter: { fraction: train.exposure, sd: train.exposureSd },
    warnings: [],
  };
}

function allUnseen(set: OnsetSet): OnsetSet {
  const onsets = set.onsets.map((o) => ({ ...o, flags: [...new Set([...o.flags, UNSEEN])] }));
  return { ...set, onsets };
}

function pulseOnset(
  edge: PulsedEdge,
  { train: { periodT }, shares: both }: TrainTimes,
  levels: { readonly first: number; readonly level: number; readonly half: number; readonly settled: number },
  periodS: number,
  level: number,
): Onset {
  const { frame, kind, sign, contrast, before, after, chances } = edge;
  const shares = both?.[sign > 0 ? 'rise' : 'fall'] ?? null;
  const best = chances.reduce((a, b) => (b.chance > a.chance ? b : a));
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
  const isOther = edge.showsOtherPictures && !unseen;
  return {
    ...{ frame, kind, sign, contrast },
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
    ...{ before, after },
    flags: [
      ...edge.gaps,
      ...(unseen ? [UNSEEN] : []),
      ...(edge.isAlone ? [ONLY_ONE] : []),
      ...(isOther ? [UNSEEN] : []),
    ],
  };
}
