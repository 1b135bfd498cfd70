/**
 * A backlight that is switched on and off in a fixed rhythm, by a dimmer or once a refresh: its times on the capture
 * clock, from the light of frames in which the picture is still.
 */
import { nelderMead } from '../numeric/minimise.js';
import { type Gate, gateLight, passed } from './gate.js';
import type { PulseForm } from './pulseForm.js';
import {
  BEND_SD,
  CLOCKS_SD,
  distinctPhases,
  FINEST_RESIDUAL,
  LOCKED_PHASES,
  PHASES_BELIEVED,
  unexplained,
} from './stillLight.js';
import { drawForms, summed } from './trainDraws.js';

/** Light of a still picture in one band of rows: start of exposure and light (room light taken off) of some frames. */
export interface StillBand {
  readonly openT: Float64Array;
  readonly values: Float64Array;
}

/** What is known beforehand. */
export interface GateSearch {
  /** Beat of the light against the frames, cycles a capture period. */
  readonly perFrame: number;
  readonly exposure: number;
  /** Standard uncertainty of the exposure fraction. */
  readonly exposureSd: number;
  /** Slowest and fastest rhythm to think of, cycles a capture period. */
  readonly range: readonly [number, number];
  /** A rhythm that the display is known to have (its refresh), cycles a capture period; null where there is none. */
  readonly expected: number | null;
  /** Where no rhythm is known: slowest and fastest refresh of a display, cycles a capture period. */
  readonly refreshes: readonly [number, number];
}

const DUTIES = [0.05, 0.12, 0.25, 0.4, 0.55, 0.7, 0.85];
const PHASES = 20;
const MOST_FRAMES = 300;
// A rhythm that leaves more than this of the light is not the one.
const LARGEST_RESIDUAL = 0.04;
// A rhythm that is known to be there is taken unless another one leaves clearly less: frames alone hardly tell them.
const CLEARLY_LESS = 0.5;
const SAME_RHYTHM = 0.004;
// Frames share their model error, so that not each of them counts: halved log likelihood per relative rise of the cost.
const BELIEVED = 4;
// Rhythms of up to so many times the best one's cost may be the true one.
const ALIKE = 2;
// Frames that meet a rhythm at so few phases show hardly anything of its form: with so much left of the light as well, a
// display's refresh is thought of.
const FEW_PHASES = 4;
const FEW_PHASES_ALIKE = 0.01;
// The beat is known to a few hundredths of a turn over the clip; a rhythm that wanders off by more than this is no longer
// the one that was seen to beat, though it may fit (its mirror, between two bright states: matrix 54766).
const MOST_OFF_BEAT = 0.15;
// Response of the cells and tone curve shift the exposure by this even where its fit is sharp (simulated clips).
const EXPOSURE_FLOOR = 0.03;

/**
 * Fits the rhythm to still frames. Frames alone show only the beat; which of the rhythms with that beat it is, rows of
 * different times and the form of the partly lit frames tell, as far as they do.
 * @returns null where no rhythm explains the light.
 */
export function fitGate(bands: readonly StillBand[], search: GateSearch): Gate | null {
  const data = bands.map(thin).filter((b) => b.values.length >= 16);
  if (data.length === 0) return null;
  const exposures = [search.exposure];
  const all: FoundGate[] = [];
  let best: FoundGate | null = null;
  let known: FoundGate | null = null;
  for (const rate of ratesWithBeat(search)) {
    const periodT = 1 / rate;
    let start: { startT: number; duty: number; exposure: number; cost: number } | null = null;
    for (const exposure of exposures) {
      for (const duty of DUTIES) {
        for (let i = 0; i < PHASES; i++) {
          const startT = (i / PHASES) * periodT;
          const cost = costOf(data, { startT, periodT, duty }, exposure);
          if (!start || cost < start.cost) start = { startT, duty, exposure, cost };
        }
      }
    }
    if (!start || start.cost > 0.6) continue;
    const found = sharpen(data, { ...start, periodT }, search);
    all.push(found);
    if (!best || found.cost < best.cost) best = found;
    if (search.expected && Math.abs(rate / search.expected - 1) < SAME_RHYTHM) known = found;
  }
  if (best && known && known.cost < best.cost / CLEARLY_LESS + 0.003) best = known;
  if (!best || best.residual >= LARGEST_RESIDUAL) return null;
  const isDisplays = ({ rate }: FoundGate) => rate >= search.refreshes[0] && rate <= search.refreshes[1];
  // Frames that keep pace with a light do not tell its rate: a display's is thought of first, with what follows from that.
  const showsFew = distinctPhases(data[0]!.openT, 1 / best.rate) <= FEW_PHASES;
  const alike = showsFew ? all.filter((f) => f.cost < FEW_PHASES_ALIKE) : rivals(all, best);
  const refresh = isDisplays(best) ? null : leastOf(alike.filter(isDisplays));
  const mayBeDimmer = search.expected === null && refresh !== null;
  const taken = mayBeDimmer ? refresh : best;
  const gate = taken.drawn();
  const exposureSd = Math.hypot(gate.exposureSd, rivalSpread(all, taken), EXPOSURE_FLOOR);
  return { ...gate, exposureSd, ...(mayBeDimmer ? { mayBeDimmer } : {}) };
}

/** The rhythms that explain the light nearly as well as the best one. */
function rivals(found: readonly FoundGate[], best: FoundGate): FoundGate[] {
  return found.filter((f) => f.cost < ALIKE * best.cost + FINEST_RESIDUAL);
}

function leastOf(found: readonly FoundGate[]): FoundGate | null {
  return found.reduce<FoundGate | null>((a, b) => (a && a.cost <= b.cost ? a : b), null);
}

/** How far the exposure of other rhythms that explain the light nearly as well lies from the best one's. */
function rivalSpread(found: readonly FoundGate[], best: FoundGate): number {
  const alike = rivals(found, best);
  return Math.sqrt(alike.reduce((sum, f) => sum + (f.exposure - best.exposure) ** 2, 0) / alike.length);
}

interface FoundGate {
  /** Cycles a capture period. */
  readonly rate: number;
  readonly cost: number;
  readonly exposure: number;
  readonly residual: number;
  /** The gate with its uncertainties. */
  readonly drawn: () => Gate;
}

function thin({ openT, values }: StillBand): StillBand {
  if (values.length <= MOST_FRAMES) return { openT, values };
  // Every so many frames would meet a beat at the same phases; short runs spread over the clip do not.
  const run = 30;
  const runs = Math.floor(MOST_FRAMES / run);
  const keep = Array.from({ length: runs * run }, (_, i) => {
    const first = Math.floor((Math.floor(i / run) * (values.length - run)) / Math.max(1, runs - 1));
    return first + (i % run);
  });
  return {
    openT: Float64Array.from(keep, (k) => openT[k]!),
    values: Float64Array.from(keep, (k) => values[k]!),
  };
}

/** All rhythms that beat against the frames as seen, slowest first. */
function ratesWithBeat({ perFrame, range }: GateSearch): number[] {
  const rates: number[] = [];
  for (let n = 0; n - perFrame <= range[1]; n++) {
    for (const rate of [n - perFrame, n + perFrame]) {
      if (rate >= range[0] && rate <= range[1]) rates.push(rate);
    }
  }
  return [...new Set(rates)].sort((a, b) => a - b);
}

/** Share of the light that a rhythm leaves unexplained, each band with its own brightness. */
function costOf(
  data: readonly StillBand[],
  gate: Pick<Gate, 'startT' | 'periodT' | 'duty'>,
  exposure: number,
  bend = 0,
): number {
  // An exposure that begins with the gate catches the most.
  const most = Math.max(1e-3, Math.min(exposure, passed(exposure, gate)));
  const caught = (openT: number) => gateLight(gate, openT, exposure);
  return unexplained(data, bend, ({ openT, values }) => ({ openT, values, caught, most }));
}

function sharpen(
  data: readonly StillBand[],
  start: { startT: number; periodT: number; duty: number; exposure: number },
  search: GateSearch,
): FoundGate {
  const times = data[0]!.openT;
  const middleT = (times[0]! + times[times.length - 1]!) / 2;
  const n = Math.round((middleT - start.startT) / start.periodT);
  // The rhythm is anchored in the middle of the clip, so that phase and period do not pull each other.
  const unpack = (p: readonly number[]) => {
    const periodT = p[1]!;
    const duty = Math.max(0.01, Math.min(0.99, p[2]!));
    const exposure = Math.max(0.02, Math.min(1, p[3]!));
    return { startT: p[0]! - n * periodT, periodT, duty, exposure, bend: p[4]! };
  };
  const count = PHASES_BELIEVED * data.reduce((sum, d) => sum + distinctPhases(d.openT, start.periodT), 0);
  // Of a rhythm that keeps pace with the frames they do not show how it drifts against them.
  const keepsPace = distinctPhases(times, start.periodT) < LOCKED_PHASES;
  const span = Math.max(50, times[times.length - 1]! - times[0]!);
  const outside = (p: readonly number[]) =>
    Math.max(0, Math.abs(1 / p[1]! - 1 / start.periodT) * span - MOST_OFF_BEAT) +
    Math.max(0, 0.01 - p[2]!, p[2]! - 0.99) +
    Math.max(0, 0.02 - p[3]!, p[3]! - 1) +
    Math.max(0, Math.abs(p[4]!) - 3 * BEND_SD);
  const whole = (p: readonly number[], scale: number) => {
    const q = unpack(p);
    const pull =
      ((p[3]! - search.exposure) / Math.max(0.02, search.exposureSd)) ** 2 +
      (p[4]! / BEND_SD) ** 2 +
      (keepsPace ? ((p[1]! / start.periodT - 1) / CLOCKS_SD) ** 2 : 0);
    return costOf(data, q, q.exposure, q.bend) + (scale * pull) / count + outside(p);
  };
  const steps = [0.06 * start.periodT, (0.1 * start.periodT ** 2) / span, 0.05, 0.05, 0.05];
  const first = nelderMead(
    (p) => whole(p, 0.01),
    [start.startT + n * start.periodT, start.periodT, start.duty, start.exposure, 0],
    steps,
    { maxCalls: 220 },
  );
  const scale = Math.max(FINEST_RESIDUAL, first.value);
  const found = nelderMead((p) => whole(p, scale), [...first.x], steps, { maxCalls: 200 });
  const gate = unpack(found.x);
  const residual = costOf(data, gate, gate.exposure, gate.bend);
  const drawn = () => {
    const believed = Math.max(FINEST_RESIDUAL, found.value);
    const form = (p: readonly number[]): PulseForm => {
      const q = unpack(p);
      return { phaseT: q.startT, slopeT: 0, decayT: (q.duty * q.periodT) / 3, exposure: q.exposure };
    };
    const logOf = (p: readonly number[]) =>
      outside(p) > 0 ? Number.NEGATIVE_INFINITY : (-0.5 * count * whole(p, believed)) / believed;
    const drawSteps = [Math.min(0.04, 0.05 * gate.periodT), 0, 0.03, 0.04, 0.04];
    const known = summed(drawForms(found.x, drawSteps, logOf, form));
    const { exposure, exposureSd } = known;
    const average = averageStart(data, { ...gate, exposure }, residual);
    const spread = known.draws.map((d) => (d.phaseT - known.phaseT) ** 2);
    const drawnSdT = Math.sqrt(spread.reduce((a, b) => a + b, 0) / Math.max(1, spread.length));
    const isLocked = average.startSdT > drawnSdT;
    return {
      periodT: gate.periodT,
      startT: isLocked ? average.startT : known.phaseT,
      duty: isLocked ? average.duty : Math.max(0.01, Math.min(0.99, (3 * known.decayT) / gate.periodT)),
      startSdT: Math.max(average.startSdT, drawnSdT),
      exposure,
      exposureSd,
      residual,
    };
  };
  return { rate: 1 / start.periodT, cost: found.value, exposure: gate.exposure, residual, drawn };
}

/**
 * Where the rhythm is locked to the frames, they say little about when in an exposure the light comes on: all starts
 * and lengths that fit are averaged.
 */
function averageStart(
  data: readonly StillBand[],
  gate: { startT: number; periodT: number; duty: number; exposure: number },
  residual: number,
): { startT: number; duty: number; startSdT: number } {
  const points: { startT: number; duty: number; cost: number }[] = [
    { startT: gate.startT, duty: gate.duty, cost: residual },
  ];
  const reach = Math.min(1, gate.periodT / 2);
  for (const duty of [...DUTIES, gate.duty]) {
    if (Math.abs(duty - gate.duty) * gate.periodT > 1) continue;
    for (let i = -20; i <= 20; i++) {
      const startT = gate.startT + (i / 20) * reach;
      points.push({ startT, duty, cost: costOf(data, { ...gate, startT, duty }, gate.exposure) });
    }
  }
  const least = Math.min(...points.map((p) => p.cost));
  const scale = Math.max(least, 1e-4);
  const weights = points.map((p) => Math.exp((-BELIEVED * (p.cost - least)) / scale));
  const total = weights.reduce((a, b) => a + b, 0);
  const mean = (of: (p: (typeof points)[number]) => number) =>
    points.reduce((sum, p, i) => sum + (weights[i]! / total) * of(p), 0);
  const startT = mean((p) => p.startT);
  return { startT, duty: mean((p) => p.duty), startSdT: Math.sqrt(mean((p) => (p.startT - startT) ** 2)) };
}
