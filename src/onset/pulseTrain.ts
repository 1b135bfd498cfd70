/**
 * Tube displays: light comes in one pulse a refresh. All pulses of a clip lie on one lattice, which is known far better
 * than any single frame tells; a response is the first pulse of that lattice with the new energy.
 */
import { nelderMead } from '../numeric/minimise.js';
import { seededRandom } from '../numeric/seededRandom.js';
import { strongestBeats } from './beatRates.js';
import type { PulsedBands } from './pulsedBands.js';
import { bandStart, pulseTable } from './pulseForm.js';

/** A lattice of pulses without its period. Times in capture periods from the first frame's timestamp. */
export interface PulseForm {
  /** A pulse reaches the top row of the upright picture (whether the screen is there or not) at `phaseT + n * periodT`. */
  readonly phaseT: number;
  /** Time from one upright pixel row to the next (negative: upwards). */
  readonly slopeT: number;
  /** Time constant with which the light dies away; of a backlight's flash (slope 0) a third of its length. */
  readonly decayT: number;
  /** Exposure fraction that goes with it: pulses that beat against the frames measure it. */
  readonly exposure: number;
}

/** The lattice of pulses. */
export interface PulseTrain extends PulseForm {
  /** Refresh period. */
  readonly periodT: number;
  readonly exposureSd: number;
  /** Share of the light that the train does not explain. */
  readonly residual: number;
  /** Draws from the posterior of the form, for the uncertainty that all onsets share. */
  readonly draws: readonly PulseForm[];
}

/** What is known before the light is looked at. */
export interface TrainSearch {
  readonly periodS: number;
  readonly exposure: number;
  readonly exposureSd: number;
  /** Scan slopes that are possible for a display that fits into the picture, ascending; 0 is a backlight's flash. */
  readonly slopesT: readonly number[];
  /** Refresh rate as stated; only a start, the clip's own beat decides the last digits. */
  readonly statedHz: number | null;
}

// More lit frames than this do not sharpen the lattice, but cost time; spans are taken evenly over the clip.
const MOST_FRAMES = 400;
const GRID_FRAMES = 160;
const LARGEST_RESIDUAL = 0.05;
const DECAYS = [0.05, 0.2, 0.6];
const PHASE_STEP = 0.12;
// Slopes are tried so closely that a pulse's way over the regions differs by this from one to the next, but not more of them.
const SWEEP_STEP = 0.3;
const MOST_SLOPES = 12;
const SHORTEST_DECAY = 0.01;
// A tube stands upside down in front of a camera only where the light says so beyond doubt.
const UPWARDS_COST = 2;
// Frames that meet the pulses at the same phase repeat each other, errors of the model included, and bands side by side
// do in part: so much of the number of phases and bands is believed.
const BELIEVED = 0.3;
const PHASE_BINS = 32;
// Light that fits better than this fits by chance: tone curve and sampling leave more (simulated clips).
const FINEST_RESIDUAL = 3e-4;
// Pulses locked to the frames show their form only once, over the rows, where uneven brightness of the picture counts in.
const LOCKED_RESIDUAL = 5e-3;
const LOCKED_PHASES = 12;
const DRAWS = 1600;
const KEEP_EVERY = 8;

interface BandData {
  readonly openT: Float64Array;
  readonly values: Float64Array;
  readonly startAt: (slopeT: number) => number;
  readonly heightPx: number;
}

/**
 * Fits one lattice to the lit spans of all regions of a screen.
 * @returns null where no regular train is seen.
 */
export function fitPulseTrain(regions: readonly PulsedBands[], search: TrainSearch): PulseTrain | null {
  const { periodS, slopesT } = search;
  const data = bandData(regions, periodS, MOST_FRAMES);
  const longest = data.reduce((a, b) => (b.values.length > a.values.length ? b : a), data[0]!);
  if (!longest || longest.values.length < 12) return null;
  const beatsHz = strongestBeats(longest.openT, longest.values, 1 / periodS, search.statedHz);
  if (beatsHz.length === 0) return null;
  const coarse = trainCost(bandData(regions, periodS, GRID_FRAMES));
  const cost = trainCost(data);
  // The beat is anchored where the data lie, in time and on the screen, so that the parameters do not pull each other.
  const centrePx = regions.reduce((sum, r) => sum + (r.topPx + r.heightPx / 2) / regions.length, 0);
  const topPx = Math.min(...regions.map((r) => r.topPx));
  const reachPx = Math.max(...regions.map((r) => r.topPx + r.heightPx)) - topPx;
  const times = longest.openT;
  const middleT = (times[0]! + times[times.length - 1]!) / 2;
  let best: { readonly train: Omit<PulseTrain, 'draws' | 'exposureSd'>; readonly value: number } | null =
    null;
  let sample: (() => Pick<PulseTrain, 'draws' | 'exposureSd' | keyof PulseForm>) | null = null;
  for (const hz of beatsHz) {
    const periodT = 1 / (periodS * hz);
    // The regions lie on a screen that is drawn within one refresh.
    const high = Math.min(slopesT[slopesT.length - 1]!, (1.03 * periodT + 0.2) / reachPx);
    const start = gridStart(coarse, periodT, search.exposure, slopeGrid(slopesT, high, reachPx));
    const upwards = start.slopeT < 0;
    const isFlash = start.slopeT === 0;
    const lowest = upwards ? slopesT[0]! : slopesT.find((s) => s > 0)! * 0.9;
    const highest = upwards ? 0.5 * slopesT[0]! : high;
    const number = Math.round((middleT - start.phaseT - start.slopeT * centrePx) / periodT);
    const unpack = (p: readonly number[]) => {
      const slopeT = isFlash ? 0 : Math.max(lowest, Math.min(highest, p[2]!));
      return {
        phaseT: p[0]! - slopeT * centrePx - number * p[1]!,
        periodT: p[1]!,
        slopeT,
        decayT: Math.max(SHORTEST_DECAY, p[3]!),
        exposure: Math.max(0.02, Math.min(1, p[4]!)),
      };
    };
    const outside = (p: readonly number[]) =>
      (isFlash ? 0 : Math.max(0, lowest - p[2]!, p[2]! - highest) * reachPx) +
      Math.max(0, SHORTEST_DECAY - p[3]!) +
      Math.max(0, 0.02 - p[4]!, p[4]! - 1);
    const count = BELIEVED * data.reduce((sum, d) => sum + distinctPhases(d.openT, periodT), 0);
    const pull = (p: readonly number[]) =>
      ((p[4]! - search.exposure) / Math.max(0.02, search.exposureSd)) ** 2 / count;
    const whole = (p: readonly number[], scale: number) => {
      const q = unpack(p);
      return cost(q, q.periodT) + outside(p) + scale * pull(p);
    };
    let found = {
      x: [
        start.phaseT + start.slopeT * centrePx + number * periodT,
        periodT,
        start.slopeT,
        start.decayT,
        start.exposure,
      ] as readonly number[],
      value: Number.POSITIVE_INFINITY,
    };
    const slopeStep = Math.max(1e-6, Math.abs(highest - lowest) / 12);
    const span = Math.max(50, times[times.length - 1]! - times[0]!);
    const steps = [0.06, Math.min(2e-4 * periodT, (0.05 * periodT * periodT) / span), slopeStep, 0.05, 0.05];
    // Exposure and decay pull each other: the search starts on both sides of what is known about the exposure.
    const first = found.x;
    for (const shift of search.exposureSd < 0.03 ? [0] : [0, -1, 1]) {
      const exposure = Math.max(0.06, Math.min(1, search.exposure + shift * search.exposureSd));
      const next = nelderMead((p) => whole(p, 1e-3), [...first.slice(0, 4), exposure], steps, {
        maxCalls: 260,
      });
      if (next.value < found.value) found = next;
    }
    const finest = distinctPhases(longest.openT, periodT) < LOCKED_PHASES ? LOCKED_RESIDUAL : FINEST_RESIDUAL;
    const prior = Math.max(finest, found.value);
    found = nelderMead((p) => whole(p, prior), [...found.x], steps, { maxCalls: 420 });
    const top = unpack(found.x);
    const value = found.value * (upwards ? UPWARDS_COST : 1);
    if (best && best.value <= value) continue;
    best = { train: { ...top, residual: cost(top, top.periodT) }, value };
    const scale = Math.max(finest, found.value);
    const slopeScale = isFlash ? 0 : slopeStep / 3;
    sample = () => {
      const logOf = (p: readonly number[]) =>
        outside(p) > 0 ? Number.NEGATIVE_INFINITY : (-0.5 * count * whole(p, scale)) / scale;
      return drawForms(found.x, [0.04, 0, slopeScale, 0.04, 0.04], logOf, unpack);
    };
  }
  // A lattice that leaves this much of the light unexplained is none; the caller then treats the light as rippling.
  if (!best || !sample || best.train.residual > LARGEST_RESIDUAL) return null;
  return { ...best.train, ...sample() };
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

/** How many phases of the pulses the frames meet. */
function distinctPhases(openT: Float64Array, periodT: number): number {
  const seen = new Set<number>();
  for (const t of openT) seen.add(Math.floor((t / periodT - Math.floor(t / periodT)) * PHASE_BINS + 1e-6));
  return seen.size;
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

/**
 * Share of the light that a lattice leaves unexplained, each band with its own brightness. Bands whose pulses fall behind
 * the closed shutter hold no light and so do not count.
 */
function trainCost(data: readonly BandData[]): (form: PulseForm, periodT: number) => number {
  const tables = new Map<string, (t: number) => number>();
  const tableOf = (sweepT: number, decayT: number) => {
    const key = `${sweepT}/${decayT}`;
    let table = tables.get(key);
    if (!table) {
      if (tables.size > 200) tables.clear();
      table = pulseTable(sweepT, decayT);
      tables.set(key, table);
    }
    return table;
  };
  return ({ phaseT, slopeT, decayT, exposure }, periodT) => {
    let left = 0;
    let whole = 0;
    for (const { openT, values, startAt, heightPx } of data) {
      const offset = phaseT + startAt(slopeT);
      const come = tableOf(Math.abs(slopeT) * heightPx, decayT);
      let gg = 0;
      let gy = 0;
      let yy = 0;
      for (let i = 0; i < values.length; i++) {
        const since = openT[i]! - offset;
        const latest = since - Math.floor((since + exposure) / periodT) * periodT;
        let g = 0;
        for (let d = 0; d < 3; d++) g += come(latest + d * periodT + exposure) - come(latest + d * periodT);
        gg += g * g;
        gy += g * values[i]!;
        yy += values[i]! * values[i]!;
      }
      left += yy - (gg > 0 ? (gy * gy) / gg : 0);
      whole += yy;
    }
    return whole > 0 ? left / whole : 1;
  };
}

/** Slopes to start from: upwards, none, and downwards in small steps. */
function slopeGrid(slopesT: readonly number[], high: number, reachPx: number): number[] {
  const low = slopesT.find((s) => s > 0)!;
  const count = Math.min(MOST_SLOPES, Math.max(2, Math.ceil(((high - low) * reachPx) / SWEEP_STEP) + 1));
  const down = Array.from({ length: count }, (_, i) => low + ((high - low) * i) / (count - 1));
  return [...slopesT.filter((s) => s <= 0), ...down];
}

function gridStart(
  cost: (form: PulseForm, periodT: number) => number,
  periodT: number,
  exposure: number,
  slopesT: readonly number[],
): PulseForm {
  let best: PulseForm = { phaseT: 0, slopeT: 0, decayT: DECAYS[0]!, exposure };
  let least = Number.POSITIVE_INFINITY;
  for (const slopeT of slopesT) {
    for (const decayT of DECAYS) {
      for (let phaseT = 0; phaseT < periodT; phaseT += PHASE_STEP) {
        const form = { phaseT, slopeT, decayT, exposure };
        const c = cost(form, periodT) * (slopeT < 0 ? UPWARDS_COST : 1);
        if (c >= least) continue;
        least = c;
        best = form;
      }
    }
  }
  return best;
}

/**
 * Metropolis draws around the best form (JCGM 101 needs the distribution where the model is not linear): locked to the
 * camera, frames leave ranges of forms that explain them alike.
 */
function drawForms(
  start: readonly number[],
  steps: readonly number[],
  logOf: (p: readonly number[]) => number,
  unpack: (p: readonly number[]) => PulseForm,
): Pick<PulseTrain, 'draws' | 'exposureSd' | keyof PulseForm> {
  const random = seededRandom(41);
  let p = [...start];
  let log = logOf(p);
  const draws: PulseForm[] = [];
  for (let i = 0; i < DRAWS; i++) {
    const size = [0.1, 0.4, 1.5][i % 3]!;
    const next = p.map((v, j) => v + size * steps[j]! * random.normal());
    const nextLog = logOf(next);
    if (Math.log(random.uniform(1e-12, 1)) < nextLog - log) {
      p = next;
      log = nextLog;
    }
    if (i >= DRAWS / 5 && i % KEEP_EVERY === 0) draws.push(unpack(p));
  }
  const mean = (of: (f: PulseForm) => number) => draws.reduce((sum, f) => sum + of(f) / draws.length, 0);
  const exposure = mean((f) => f.exposure);
  return {
    draws,
    phaseT: mean((f) => f.phaseT),
    slopeT: mean((f) => f.slopeT),
    decayT: mean((f) => f.decayT),
    exposure,
    exposureSd: Math.hypot(Math.sqrt(mean((f) => (f.exposure - exposure) ** 2)), 0.01),
  };
}
