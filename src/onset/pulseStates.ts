/** Which pulse of a tube's lattice was the first of the new picture: both pictures are known, only the place is free. */
import { bandStart, pulseTable } from './pulseForm.js';
import { ALIKE, misfitSeen, supposedMisfit } from './pulseMisfit.js';
import type { PulseTrain } from './pulseTrain.js';
import type { Band } from './windows.js';

/** Frames that are surely of one picture, as index ranges (half-open). */
export type StateSpan = readonly [from: number, to: number];

/** A band of a region with the energy of its pulses in the darker and in the brighter picture. */
export interface BandStates {
  readonly band: Band;
  readonly dim: number;
  readonly bright: number;
  /** Variance of a frame about what the two states make of it. */
  readonly variance: number;
  /** Time at which pulse 0 reaches the band, and its running light. */
  readonly startT: number;
  readonly come: (t: number) => number;
  /** Error of the band's light by the model where frames catch the share `g` of a pulse; bands side by side have it in common. */
  readonly misfit: (g: number) => number;
}

/** Chance of each pulse to be the first of the new picture. */
export interface FirstPulse {
  readonly chances: readonly { readonly pulse: number; readonly chance: number }[];
  /** Log of the evidence, all pulses alike beforehand, up to a constant that does not depend on the shares. */
  readonly log: number;
}

// A picture may differ from the clip's usual one in brightness by this much (automatic exposure; judgement).
const BRIGHTNESS_SD = 0.1;
const LEAST_CHANCE = 1e-4;
/** A pulse that was caught this clearly (squared contrast) shows which picture it is of. */
export const CLEAR = 25;
/** Of a pulse less than this share (squared, of the best) of which was caught, nothing is made. */
export const LEAST_SEEN = 0.15;
// A picture of so few refreshes may hide between pulses that were seen.
const MOST_UNSEEN = 2;
// A band whose frames catch less than this of a pulse (mean square) holds no light to compare.
const LEAST_CAUGHT = 1e-5;

/** The bands whose pulses are seen, with the energies of both pictures. */
export function bandStates(
  region: { readonly topPx: number; readonly heightPx: number; readonly parts: readonly Band[] },
  train: PulseTrain,
  spans: { readonly dim: readonly StateSpan[]; readonly bright: readonly StateSpan[] },
  periodS: number,
): BandStates[] {
  const known = region.parts.flatMap((band) => {
    const startT = train.phaseT + bandStart(train.slopeT, region, band);
    const come = pulseTable(Math.abs(train.slopeT) * region.heightPx * band.extent, train.decayT);
    const light = (k: number) => allPulses(band.openS[k]! / periodS - startT, train, come);
    const dim = meanEnergy(band, spans.dim, light);
    const bright = meanEnergy(band, spans.bright, light);
    if (!dim || !bright) return [];
    const variance = Math.max(dim.variance, bright.variance) + 1e-12;
    return [{ light, states: { band, dim: dim.energy, bright: bright.energy, variance, startT, come } }];
  });
  const supposed = supposedMisfit(train, known.length);
  const seen = misfitSeen(
    known.map(({ light, states }) => ({ light, band: states.band })),
    [...spans.dim, ...spans.bright],
    supposed.common,
  );
  return known.map(({ states }) => {
    const step = Math.abs(states.bright - states.dim);
    const level = Math.max(Math.abs(states.dim), Math.abs(states.bright));
    // Still pictures do not show all of it, as cells in the midst of a change are not known either, and show too much of it
    // where the rhythm is not the right one.
    const size = Math.max(step, Math.min(1, seen) * level);
    return { ...states, misfit: (g) => size * supposed.together(g) };
  });
}

/** Light of all pulses in an exposure that opens `since` after pulse 0 started, a share of one pulse's. */
export function allPulses(
  since: number,
  train: Pick<PulseTrain, 'periodT' | 'exposure'>,
  come: (t: number) => number,
): number {
  const { periodT, exposure } = train;
  const latest = since - Math.floor((since + exposure) / periodT) * periodT;
  let sum = 0;
  for (let d = 0; d < 3; d++) sum += come(latest + d * periodT + exposure) - come(latest + d * periodT);
  return sum;
}

/** Light of a new picture of which pulse `first + j` shows the share `shareOf(j)`. */
function newLight(
  first: number,
  since: number,
  { periodT, exposure }: PulseTrain,
  come: (t: number) => number,
  shareOf: (j: number) => number,
): number {
  const last = Math.floor((since + exposure) / periodT);
  let sum = 0;
  for (let n = last - 2; n <= last; n++) {
    const share = shareOf(n - first);
    if (share !== 0) sum += share * (come(since + exposure - n * periodT) - come(since - n * periodT));
  }
  return sum;
}

/** A beam draws the new picture at once. */
const atOnce = (j: number): number => (j < 0 ? 0 : 1);

/** Evidence (squared contrast) of one pulse's picture in the frames that caught it. */
export function evidenceOf(
  pulse: number,
  states: readonly BandStates[],
  train: PulseTrain,
  [from, to]: StateSpan,
  periodS: number,
): number {
  const { periodT, exposure } = train;
  let sum = 0;
  for (const { band, dim, bright, variance, startT, come, misfit } of states) {
    const atT = startT + pulse * periodT;
    for (let k = from; k < to; k++) {
      const since = band.openS[k]! / periodS - atT;
      if (since < -exposure || since > periodT) continue;
      const g = come(since + exposure) - come(since);
      const step = bright - dim;
      sum += (step * g) ** 2 / (ALIKE * variance + misfit(g) ** 2);
    }
  }
  return sum;
}

/** Stretches of time (s, pulse after pulse) in which no pulse was caught clearly enough to tell the two pictures apart. */
export function unseenSpans(
  states: readonly BandStates[],
  train: PulseTrain,
  periodS: number,
): (readonly [from: number, to: number])[] {
  const [first] = states;
  if (!first) return [];
  const { periodT, exposure } = train;
  const evidence = new Map<number, { clear: number; caught: number }>();
  for (const { band, dim, bright, variance, startT, come, misfit } of states) {
    const step = bright - dim;
    for (const openS of band.openS) {
      const since = openS / periodS - startT;
      const last = Math.floor((since + exposure) / periodT);
      for (let n = last - 1; n <= last; n++) {
        const g = come(since + exposure - n * periodT) - come(since - n * periodT);
        if (g <= 0) continue;
        const own = (step * g) ** 2 / (ALIKE * variance + misfit(g) ** 2);
        const sum = evidence.get(n) ?? { clear: 0, caught: 0 };
        sum.clear += own;
        sum.caught += g * g;
        evidence.set(n, sum);
      }
    }
  }
  const most = [...evidence.values()].reduce((max, e) => Math.max(max, e.caught), 0);
  const isSeen = (e: { clear: number; caught: number }) => e.clear > CLEAR && e.caught > LEAST_SEEN * most;
  const numbers = [...evidence].filter(([, e]) => isSeen(e)).map(([n]) => n);
  numbers.sort((a, b) => a - b);
  const at = (n: number) => (first.startT + n * periodT) * periodS;
  const open = first.band.openS;
  const ends = [
    Math.floor((open[0]! / periodS - first.startT) / periodT),
    ...numbers,
    Math.ceil((open[open.length - 1]! / periodS - first.startT) / periodT),
  ];
  return ends
    .slice(1)
    .flatMap((n, i) => (n - ends[i]! > MOST_UNSEEN ? [[at(ends[i]!), at(n)] as const] : []));
}

function meanEnergy(
  band: Band,
  spans: readonly StateSpan[],
  light: (frame: number) => number,
): { energy: number; variance: number } | null {
  let gg = 0;
  let gy = 0;
  let frames = 0;
  for (const [from, to] of spans) {
    for (let k = from; k < to; k++) {
      const g = light(k);
      gg += g * g;
      gy += g * band.signal[k]!;
      frames++;
    }
  }
  if (frames < 4 || gg < LEAST_CAUGHT * frames) return null;
  const energy = gy / gg;
  let sum = 0;
  for (const [from, to] of spans) {
    for (let k = from; k < to; k++) sum += (band.signal[k]! - energy * light(k)) ** 2;
  }
  return { energy, variance: sum / (frames - 1) };
}

/**
 * Posterior of the first pulse of the new picture, every pulse of the range alike beforehand.
 * @param frames frames to look at, half-open: they must hold no other change.
 * @param pulses first and last pulse that may be the one.
 * @param shareOf share of the new picture in a band (by its index) that pulse `j` after the first one shows.
 */
export function firstPulse(
  states: readonly BandStates[],
  train: PulseTrain,
  rising: boolean,
  frames: StateSpan,
  pulses: readonly [number, number],
  periodS: number,
  shareOf: (band: number, j: number) => number = (_band, j) => atOnce(j),
): FirstPulse {
  const logs: number[] = [];
  for (let n = pulses[0]; n <= pulses[1]; n++) {
    // The whole light may be a little brighter or darker than usual, with a normal prior around 1.
    const pull = 1 / BRIGHTNESS_SD ** 2;
    let [gg, gy, yy] = [pull, pull, pull];
    for (const [b, { band, dim, bright, variance, startT, come, misfit }] of states.entries()) {
      const [before, after] = rising ? [dim, bright] : [bright, dim];
      const share = (j: number) => shareOf(b, j);
      for (let k = frames[0]; k < frames[1]; k++) {
        const since = band.openS[k]! / periodS - startT;
        const late = newLight(n, since, train, come, share);
        const all = allPulses(since, train, come);
        const g = before * (all - late) + after * late;
        const w = 1 / (ALIKE * variance + misfit(all) ** 2);
        const y = band.signal[k]!;
        gg += w * g * g;
        gy += w * g * y;
        yy += w * y * y;
      }
    }
    logs.push(-0.5 * (yy - (gy * gy) / gg));
  }
  const top = Math.max(...logs);
  const total = logs.reduce((sum, l) => sum + Math.exp(l - top), 0);
  const chances = logs
    .map((l, i) => ({ pulse: pulses[0] + i, chance: Math.exp(l - top) / total }))
    .filter((c) => c.chance > LEAST_CHANCE);
  return { chances, log: top + Math.log(total) };
}
