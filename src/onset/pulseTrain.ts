/**
 * Tube displays: light comes in one pulse a refresh. All pulses of a clip lie on one lattice, which is known far better
 * than any single frame tells; a response is the first pulse of that lattice with the new energy.
 */
import { nelderMead } from '../numeric/minimise.js';
import { strongestBeats, UNSTATED_REFRESH_HZ } from './beatRates.js';
import type { PulsedBands } from './pulsedBands.js';
import { bandStart, type PulseForm } from './pulseForm.js';
import {
  BEND_SD,
  CLOCKS_SD,
  distinctPhases,
  FINEST_RESIDUAL,
  LOCKED_PHASES,
  PHASES_BELIEVED,
} from './stillLight.js';
import { type BandData, type BentForm, trainFit } from './trainCost.js';
import { type DrawnForm, drawForms, LONGEST_FLASH, orSwapped, summed } from './trainDraws.js';
import { gridStart, slopeGrid, UPWARDS_COST } from './trainGrid.js';

/** The lattice of pulses. */
export interface PulseTrain extends PulseForm {
  /** Refresh period. */
  readonly periodT: number;
  readonly exposureSd: number;
  /** Share of the light that the train does not explain. */
  readonly residual: number;
  /** What a train that explains the light may leave of it: pulses locked to the frames show their form only once. */
  readonly tolerance: number;
  /** True where the frames meet so few phases of the pulses that a beam and a flash may look alike. */
  readonly isLocked: boolean;
  /** Minus twice the log of its chance, up to a constant that all trains of the same locked light share. */
  readonly misfit: number;
  /** Draws from the posterior of the form, for the uncertainty that all onsets share. */
  readonly draws: readonly PulseForm[];
}

/** What is known before the light is looked at. */
export interface TrainSearch {
  readonly periodS: number;
  readonly exposure: number;
  readonly exposureSd: number;
  /**
   * Scan slopes that are possible for a display that fits into the picture, ascending; 0 is a backlight's flash. Of the
   * stated refresh, or of `UNSTATED_REFRESH_HZ`.
   */
  readonly slopesT: readonly number[];
  /** Refresh rate as stated; only a start, the clip's own beat decides the last digits. */
  readonly statedHz: number | null;
}

// More lit frames than this do not sharpen the lattice, but cost time; spans are taken evenly over the clip.
const MOST_FRAMES = 400;
const GRID_FRAMES = 160;
const RUN_FRAMES = 1500;
const LARGEST_RESIDUAL = 0.05;
// A screen may fill still less of the picture than the slopes to try first stand for, by this factor.
const STEEPEST = 1.6;
// The first steps of the descent change a pulse's way over the regions by this, capture periods.
const FIRST_SWEEP = 0.15;
const SHORTEST_DECAY = 0.01;
// Flashes last about this part of a refresh, give or take this much in natural logarithms (common practice, no source).
const USUAL_FLASH = 0.1;
const FLASH_SPREAD = 0.8;
// Pulses locked to the frames show their form only once, over the rows, where uneven brightness of the picture counts in.
const LOCKED_RESIDUAL = 5e-3;

/**
 * Fits one lattice to the lit spans of all regions of a screen.
 * @returns null where no regular train is seen.
 */
export function fitPulseTrain(regions: readonly PulsedBands[], search: TrainSearch): PulseTrain | null {
  const { periodS, slopesT } = search;
  const data = bandData(regions, periodS, MOST_FRAMES);
  const longest = data.reduce((a, b) => (b.values.length > a.values.length ? b : a), data[0]!);
  if (!longest || longest.values.length < 12) return null;
  const rateHz = 1 / periodS;
  // Runs of frames spread over the clip have side lobes, among which only a rate that is nearly known finds its own.
  // Rows tell a beam's rate from its mirror images; of flashes another rate is more likely a dimmer's, or black frames.
  const isBeam = slopesT.some((s) => s !== 0);
  const nearHz = search.statedHz === null ? unstatedRates(regions, periodS, isBeam) : [search.statedHz];
  const beatsHz = nearHz.flatMap((hz) => strongestBeats(longest.openT, longest.values, rateHz, hz));
  if (beatsHz.length === 0) return null;
  const coarse = trainFit(bandData(regions, periodS, GRID_FRAMES));
  const explain = trainFit(data);
  const phasesOf = (period: number) => distinctPhases(longest.openT, period);
  // The beat is anchored where the data lie, in time and on the screen, so that the parameters do not pull each other.
  const centrePx = regions.reduce((sum, r) => sum + (r.topPx + r.heightPx / 2) / regions.length, 0);
  const topPx = Math.min(...regions.map((r) => r.topPx));
  const reachPx = Math.max(...regions.map((r) => r.topPx + r.heightPx)) - topPx;
  const times = longest.openT;
  const middleT = (times[0]! + times[times.length - 1]!) / 2;
  let best: { readonly train: Omit<PulseTrain, 'draws' | 'exposureSd'>; readonly value: number } | null =
    null;
  let sample: (() => DrawnForm) | null = null;
  for (const hz of beatsHz) {
    // A stated rate at which the pulses keep pace with the frames stays, unless they are seen to move.
    const statedT = 1 / (periodS * (search.statedHz ?? hz));
    const beatT = 1 / (periodS * hz);
    const keepsPace =
      Math.abs(beatT / statedT - 1) < 3 * CLOCKS_SD &&
      Math.max(phasesOf(statedT), phasesOf(beatT)) < LOCKED_PHASES;
    const periodT = keepsPace ? statedT : beatT;
    // A screen is drawn within its own refresh.
    const faster = search.statedHz === null ? periodT * periodS * UNSTATED_REFRESH_HZ : 1;
    const slopes = slopesT.map((slope) => slope * faster);
    const count = PHASES_BELIEVED * data.reduce((sum, d) => sum + distinctPhases(d.openT, periodT), 0);
    // The regions lie on a screen that is drawn within one refresh.
    const high = Math.min(STEEPEST * slopes[slopes.length - 1]!, (1.03 * periodT + 0.2) / reachPx);
    // Frames that show the pulses at a few phases only do not tell when they come: how evenly they light the rows does.
    const gridCost = (form: BentForm) => {
      const { unexplained, uneven } = coarse(form, periodT);
      return unexplained + (keepsPace ? (LOCKED_RESIDUAL * uneven) / count : 0);
    };
    const start = gridStart(gridCost, periodT, search.exposure, slopeGrid(slopes, high, reachPx), centrePx);
    const upwards = start.slopeT < 0;
    const isFlash = start.slopeT === 0;
    const flattest = (slopes.find((s) => s > 0) ?? 0) * 0.9;
    const lowest = upwards ? slopes[0]! : flattest;
    const highest = upwards ? 0.5 * slopes[0]! : high;
    const number = Math.round((middleT - start.phaseT - start.slopeT * centrePx) / periodT);
    const unpack = (p: readonly number[]) => {
      const slopeT = isFlash ? 0 : Math.max(lowest, Math.min(highest, p[2]!));
      return {
        phaseT: p[0]! - slopeT * centrePx - number * p[1]!,
        periodT: p[1]!,
        slopeT,
        decayT: Math.max(SHORTEST_DECAY, p[3]!),
        exposure: Math.max(0.02, Math.min(1, p[4]!)),
        bend: p[5]!,
      };
    };
    const outside = (p: readonly number[]) =>
      (isFlash ? 0 : Math.max(0, lowest - p[2]!, p[2]! - highest) * reachPx) +
      Math.max(0, SHORTEST_DECAY - p[3]!) +
      (isFlash ? Math.max(0, 3 * p[3]! - LONGEST_FLASH * p[1]!) : 0) +
      Math.max(0, 0.02 - p[4]!, p[4]! - 1) +
      Math.max(0, Math.abs(p[5]!) - 3 * BEND_SD);
    const flashShare = (p: readonly number[]) =>
      (3 * Math.max(SHORTEST_DECAY, p[3]!)) / (USUAL_FLASH * p[1]!);
    // Screens of half and of a quarter of the picture are as likely: steep slopes, which lie farther apart, count for less.
    const smallScreen = (p: readonly number[]) =>
      2 * Math.log(Math.max(1, Math.abs(p[2]!) / Math.max(1e-9, flattest)));
    const pull = (p: readonly number[]) =>
      (((p[4]! - search.exposure) / Math.max(0.02, search.exposureSd)) ** 2 +
        (p[5]! / BEND_SD) ** 2 +
        (isFlash ? (Math.log(flashShare(p)) / FLASH_SPREAD) ** 2 : smallScreen(p)) +
        (keepsPace ? ((p[1]! / periodT - 1) / CLOCKS_SD) ** 2 : 0)) /
      count;
    const whole = (p: readonly number[], scale: number) => {
      const q = unpack(p);
      const { unexplained, uneven } = explain(q, q.periodT);
      return unexplained + outside(p) + scale * (pull(p) + (keepsPace ? uneven / count : 0));
    };
    let found = {
      x: [
        start.phaseT + start.slopeT * centrePx + number * periodT,
        periodT,
        start.slopeT,
        start.decayT,
        start.exposure,
        0,
      ] as readonly number[],
      value: Number.POSITIVE_INFINITY,
    };
    const slopeStep = Math.max(1e-6, Math.min(Math.abs(highest - lowest) / 12, FIRST_SWEEP / reachPx));
    const span = Math.max(50, times[times.length - 1]! - times[0]!);
    const steps = [
      0.06,
      Math.min(2e-4 * periodT, (0.05 * periodT * periodT) / span),
      slopeStep,
      0.05,
      0.05,
      0.05,
    ];
    // Exposure and decay pull each other: the search starts on both sides of what is known about the exposure.
    const first = found.x;
    for (const shift of search.exposureSd < 0.03 ? [0] : [0, -1, 1]) {
      const exposure = Math.max(0.06, Math.min(1, search.exposure + shift * search.exposureSd));
      const next = nelderMead((p) => whole(p, 1e-3), [...first.slice(0, 4), exposure, 0], steps, {
        maxCalls: 300,
      });
      if (next.value < found.value) found = next;
    }
    const isLocked = phasesOf(periodT) < LOCKED_PHASES;
    const finest = isLocked ? LOCKED_RESIDUAL : FINEST_RESIDUAL;
    const prior = Math.max(finest, found.value);
    found = nelderMead((p) => whole(p, prior), [...found.x], steps, { maxCalls: 500 });
    const top = unpack(found.x);
    const value = found.value * (upwards ? UPWARDS_COST : 1);
    if (best && best.value <= value) continue;
    best = {
      train: {
        ...top,
        residual: explain(top, top.periodT).unexplained,
        tolerance: finest,
        isLocked,
        misfit: (count * value) / prior,
      },
      value,
    };
    const scale = Math.max(finest, found.value);
    const slopeScale = isFlash ? 0 : slopeStep / 3;
    sample = () => {
      const logOf = (p: readonly number[]) =>
        outside(p) > 0 ? Number.NEGATIVE_INFINITY : (-0.5 * count * whole(p, scale)) / scale;
      const draws = drawForms(found.x, [0.04, 0, slopeScale, 0.04, 0.04, 0.04], logOf, unpack);
      return summed(isFlash ? draws.map(orSwapped(search, periodT)) : draws);
    };
  }
  // A lattice that leaves this much of the light unexplained is none; the caller then treats the light as rippling.
  if (!best || !sample || best.train.residual > LARGEST_RESIDUAL) return null;
  return { ...best.train, ...sample() };
}

/**
 * Rates at which a region's light may beat in one long run of frames, Hz; none where it does not.
 * @param withImages see `strongestBeats`.
 */
function unstatedRates(regions: readonly PulsedBands[], periodS: number, withImages: boolean): number[] {
  const region = regions.reduce((a, b) => (b.stillFrames.length > a.stillFrames.length ? b : a));
  const { stillFrames, parts } = region;
  const from = Math.max(0, (stillFrames.length - RUN_FRAMES) >> 1);
  const frames = stillFrames.slice(from, from + RUN_FRAMES);
  const band = parts[parts.length >> 1]!;
  const openT = Float64Array.from(frames, (k) => band.openS[k]! / periodS);
  const values = Float64Array.from(frames, (k) => band.signal[k]!);
  return strongestBeats(openT, values, 1 / periodS, null, withImages);
}

function bandData(regions: readonly PulsedBands[], periodS: number, mostFrames: number): BandData[] {
  return regions.flatMap((region) => {
    const frames = spreadFrames(region.stillFrames, mostFrames);
    return region.parts.map((band) => ({
      openT: Float64Array.from(frames, (k) => band.openS[k]! / periodS),
      values: Float64Array.from(frames, (k) => band.signal[k]!),
      startAt: (slopeT: number) => bandStart(slopeT, region, band),
      heightPx: region.heightPx * band.extent,
    }));
  });
}

/** At most `most` of the frames, in short runs spread over all of them: every so many frames would meet a beat alike. */
function spreadFrames(frames: readonly number[], most: number): readonly number[] {
  if (frames.length <= most) return frames;
  const run = 20;
  const runs = Math.max(2, Math.floor(most / run));
  return Array.from({ length: runs * run }, (_, i) => {
    const first = Math.floor((Math.floor(i / run) * (frames.length - run)) / (runs - 1));
    return frames[first + (i % run)]!;
  });
}
