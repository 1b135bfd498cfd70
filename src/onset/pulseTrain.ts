/**
 * Tube and strobed displays: light comes in one pulse a refresh. All pulses of a clip lie on one lattice, which is
 * known far better than any single frame tells; a response is the first pulse of that lattice with the new energy.
 */
import { nelderMead } from '../numeric/minimise.js';
import { type EdgeShape, responseAt } from './edgeShape.js';
import type { Band } from './windows.js';

/** The lattice of pulses. Times in capture periods from the first frame's timestamp. */
export interface PulseTrain {
  /** Refresh period. */
  readonly periodT: number;
  /** A pulse reaches the top row of the upright picture (whether the screen is there or not) at `phaseT + n * periodT`. */
  readonly phaseT: number;
  /** Standard uncertainty of `phaseT`, common to the clip. */
  readonly phaseSdT: number;
  /** Time from one upright pixel row to the next (negative: upwards). */
  readonly slopeT: number;
  /** Time constant with which the light dies away; of a backlight's flash (slope 0) a third of its length. */
  readonly decayT: number;
  /** Share of the light that the train does not explain. */
  readonly residual: number;
}

/** One region's light for the fit: its bands, where it lies, and when it is lit. */
export interface PulsedBands {
  readonly whole: Band;
  readonly parts: readonly Band[];
  readonly topPx: number;
  readonly heightPx: number;
  /** Spans of the brighter and of the darker state. */
  readonly lit: readonly LitSpan[];
  readonly unlit: readonly LitSpan[];
}

/** Start of a pulse in a band (its first line) after the pulse passes the picture's top row. */
function bandStart(slopeT: number, region: { topPx: number; heightPx: number }, band: Band): number {
  const top = region.topPx + band.from * region.heightPx;
  return Math.min(slopeT * top, slopeT * (top + band.extent * region.heightPx));
}

/**
 * Form of a pulse in a band: a tube's beam sweeps over the lines and its phosphor dies away; a backlight's flash (no
 * sweep at all) is steady for its length.
 */
function pulseForm(sweepT: number, decayT: number): EdgeShape {
  return sweepT === 0 ? { tauT: 0, sweepT: 3 * decayT } : { tauT: decayT, sweepT };
}

/** Share of a pulse's light that has come `t` periods after it starts in a band, tabulated. */
function pulseTable(sweepT: number, decayT: number): (t: number) => number {
  const form = pulseForm(sweepT, decayT);
  const endT = form.sweepT + 7 * form.tauT + 0.02;
  const n = Math.min(2000, Math.max(20, Math.ceil(endT / 0.01)));
  const h = endT / n;
  const table = Float64Array.from({ length: n + 1 }, (_, i) => responseAt(i * h, form));
  return (t) => {
    if (t <= 0) return 0;
    const position = t / h;
    if (position >= n) return 1;
    const i = Math.floor(position);
    return table[i]! + (position - i) * (table[i + 1]! - table[i]!);
  };
}

/** Frames that are surely lit, as index ranges (half-open). */
export type LitSpan = readonly [from: number, to: number];

// More lit frames than this do not sharpen the lattice, but cost time; spans are taken evenly over the clip.
const MOST_FRAMES = 400;
const LARGEST_RESIDUAL = 0.05;
const DECAYS = [0.03, 0.12, 0.3, 0.7];
const LOWEST_HZ = 45;
const HIGHEST_HZ = 130;

/**
 * Fits one lattice to the lit spans of all regions of a screen.
 * @param slopesT scan slopes that are possible for a display that fits into the picture, ascending.
 * @param statedHz refresh rate as stated; only a start, the clip's own beat decides the last digits.
 * @returns null where no regular train is seen.
 */
export function fitPulseTrain(
  regions: readonly PulsedBands[],
  periodS: number,
  exposure: number,
  slopesT: readonly number[],
  statedHz: number | null,
): PulseTrain | null {
  const data = regions.flatMap((region) => {
    const lit = spreadSpans(region.lit, MOST_FRAMES);
    const frames = lit.flatMap(([from, to]) => Array.from({ length: to - from }, (_, i) => from + i));
    return region.parts.map((band) => ({
      band,
      region,
      openT: Float64Array.from(frames, (k) => band.openS[k]! / periodS),
      values: Float64Array.from(frames, (k) => band.signal[k]!),
    }));
  });
  const longest = data.reduce((a, b) => (b.values.length > a.values.length ? b : a), data[0]!);
  if (!longest || longest.values.length < 12) return null;
  const rateHz = 1 / periodS;
  const roughHz = strongestBeat(longest.openT, longest.values, rateHz, statedHz);
  if (roughHz === null) return null;
  // Sum of squares, relative, with each band's own amplitude free.
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
  const cost = (phaseT: number, periodT: number, slopeT: number, decayT: number): number => {
    let sum = 0;
    for (const { band, region, openT, values } of data) {
      const offset = phaseT + bandStart(slopeT, region, band);
      const come = tableOf(Math.abs(slopeT) * region.heightPx * band.extent, decayT);
      let gg = 0;
      let gy = 0;
      let yy = 0;
      for (let i = 0; i < values.length; i++) {
        const n = Math.floor((openT[i]! - offset) / periodT);
        let g = 0;
        for (let d = -1; d <= 1; d++) {
          const since = openT[i]! - offset - (n + d) * periodT;
          g += come(since + exposure) - come(since);
        }
        gg += g * g;
        gy += g * values[i]!;
        yy += values[i]! * values[i]!;
      }
      sum += yy > 0 ? (yy - (gg > 0 ? (gy * gy) / gg : 0)) / yy : 0;
    }
    return sum / data.length;
  };
  const periodT = rateHz / roughHz;
  let best = { cost: Number.POSITIVE_INFINITY, phaseT: 0, slopeT: 0, decayT: 0.1 };
  for (const slopeT of slopesT) {
    for (const decayT of DECAYS) {
      for (let phaseT = 0; phaseT < periodT; phaseT += 0.08) {
        const c = cost(phaseT, periodT, slopeT, decayT);
        if (c < best.cost) best = { cost: c, phaseT, slopeT, decayT };
      }
    }
  }
  // The beat is anchored where the data lie, in time and on the screen, so that the parameters do not pull each other.
  const times = longest.openT;
  const middle = Math.round(((times[0]! + times[times.length - 1]!) / 2 - best.phaseT) / periodT);
  const centrePx = data.reduce((sum, d) => sum + (d.region.topPx + d.region.heightPx / 2) / data.length, 0);
  const low = slopesT[0]!;
  const high = slopesT[slopesT.length - 1]!;
  const isFlash = best.slopeT === 0;
  const unpack = (p: readonly number[]) => {
    const slopeT = isFlash ? 0 : Math.max(low, Math.min(high, p[2]!));
    const decayT = Math.max(0.01, p[3]!);
    return { phaseT: p[0]! - slopeT * centrePx - middle * p[1]!, periodT: p[1]!, slopeT, decayT };
  };
  const outside = (p: readonly number[]) =>
    Math.max(0, low - p[2]!, p[2]! - high) * centrePx + Math.max(0, 0.01 - p[3]!);
  const anchored = (p: readonly number[]) => {
    const q = unpack(p);
    return cost(q.phaseT, q.periodT, q.slopeT, q.decayT) + outside(p);
  };
  const start = [best.phaseT + best.slopeT * centrePx + middle * periodT, periodT, best.slopeT, best.decayT];
  const slopeStep = Math.max(1e-6, (high - low) / 20);
  const found = nelderMead(anchored, start, [0.05, 2e-4 * periodT, slopeStep, 0.05], { maxCalls: 600 });
  // A lattice that leaves this much of the light unexplained is none; the caller then treats the light as rippling.
  if (found.value > LARGEST_RESIDUAL) return null;
  const top = unpack(found.x);
  // Where the beat is locked to the camera, frames say little about the phase: all forms that fit are averaged.
  const forms = [top, ...slopesT.flatMap((slopeT) => DECAYS.map((decayT) => ({ slopeT, decayT })))];
  const points: { anchorT: number; slopeT: number; decayT: number; cost: number }[] = [];
  for (const { slopeT, decayT } of forms) {
    for (let d = -1; d <= 1; d += 0.025) {
      const anchorT = found.x[0]! + d;
      const phaseT = anchorT - slopeT * centrePx - middle * top.periodT;
      points.push({ anchorT, slopeT, decayT, cost: cost(phaseT, top.periodT, slopeT, decayT) });
    }
  }
  const least = Math.max(1e-6, Math.min(...points.map((p) => p.cost)));
  // Neighbouring frames share their model error, so a small part of the nominal count is believed.
  const count = 0.04 * Math.max(100, data.reduce((sum, d) => sum + d.values.length - 1, 0) - 4);
  const weights = points.map((p) => Math.exp((-0.5 * (p.cost - least) * count) / least));
  const total = weights.reduce((a, b) => a + b, 0);
  const mean = (of: (p: (typeof points)[number]) => number) =>
    points.reduce((sum, p, i) => sum + weights[i]! * of(p), 0) / total;
  const anchorT = mean((p) => p.anchorT);
  const slopeT = mean((p) => p.slopeT);
  return {
    periodT: top.periodT,
    phaseT: anchorT - slopeT * centrePx - middle * top.periodT,
    phaseSdT: Math.hypot(Math.sqrt(mean((p) => (p.anchorT - anchorT) ** 2)), 0.03),
    slopeT,
    decayT: mean((p) => p.decayT),
    residual: found.value,
  };
}

function spreadSpans(spans: readonly LitSpan[], mostFrames: number): LitSpan[] {
  const perSpan = Math.max(8, Math.floor(mostFrames / Math.max(1, spans.length)));
  const short = spans.map(([from, to]): LitSpan => [from, Math.min(to, from + perSpan)]);
  const most = Math.max(1, Math.floor(mostFrames / perSpan));
  if (short.length <= most) return short;
  return Array.from({ length: most }, (_, i) => short[Math.floor((i * short.length) / most)]!);
}

/** Frequency at which the lit frames beat together over the whole clip, Hz; the lowest of nearly equal peaks. */
function strongestBeat(
  timesT: Float64Array,
  values: Float64Array,
  rateHz: number,
  statedHz: number | null,
): number | null {
  const mean = values.reduce((a, b) => a + b, 0) / values.length;
  let energy = 0;
  for (const v of values) energy += (v - mean) ** 2;
  const spanS = (timesT[timesT.length - 1]! - timesT[0]!) / rateHz;
  const step = 0.2 / Math.max(0.5, spanS);
  const from = statedHz === null ? LOWEST_HZ : statedHz * 0.995;
  const to = statedHz === null ? Math.min(HIGHEST_HZ, 0.48 * rateHz) : statedHz * 1.005;
  const peaks: { hz: number; power: number }[] = [];
  for (let hz = from; hz <= to; hz += step) {
    let re = 0;
    let im = 0;
    const w = (2 * Math.PI * hz) / rateHz;
    for (let i = 0; i < values.length; i++) {
      re += (values[i]! - mean) * Math.cos(w * timesT[i]!);
      im += (values[i]! - mean) * Math.sin(w * timesT[i]!);
    }
    peaks.push({ hz, power: (2 * (re * re + im * im)) / (values.length * energy) });
  }
  const top = Math.max(...peaks.map((p) => p.power));
  // A stated rate leaves little room for chance; half of the pulses may fall behind closed shutters.
  // Light that does not change at all has no beat (0 over 0).
  if (!(top >= (statedHz === null ? 0.15 : 0.06))) return null;
  const first = peaks.findIndex((p) => p.power > 0.75 * top);
  let best = first;
  while (best + 1 < peaks.length && peaks[best + 1]!.power >= peaks[best]!.power) best++;
  return peaks[best]!.hz;
}

/** A pulse of a known state: when it comes within a camera frame (0..1), and its energy. */
export interface KnownPulse {
  readonly phase: number;
  readonly energy: number;
}

/** When pulse `n` reaches a region's first line, as a share of a camera frame, 0..1. */
export function pulsePhase(train: PulseTrain, n: number, region: PulsedBands, periodS: number): number {
  const t = train.phaseT + n * train.periodT + train.slopeT * region.topPx - region.whole.openS[0]! / periodS;
  return t - Math.floor(t);
}

/** All pulses of the spans of one state. */
export function knownPulses(
  train: PulseTrain,
  region: PulsedBands,
  spans: readonly LitSpan[],
  periodS: number,
  exposure: number,
): KnownPulse[] {
  const out: KnownPulse[] = [];
  for (const [from, to] of spans) {
    const first = Math.ceil((region.whole.openS[from]! / periodS - train.phaseT) / train.periodT);
    const last = Math.floor((region.whole.openS[to - 1]! / periodS - train.phaseT) / train.periodT);
    for (let n = first; n <= last; n++) {
      const { energy, weight } = pulseEnergy(train, n, region, periodS, exposure);
      if (weight > 0) out.push({ phase: pulsePhase(train, n, region, periodS), energy });
    }
  }
  return out;
}

// Pulses that come within this part of a camera frame of each other are caught alike.
const LIKE_PHASE = 0.05;
const MOST_LIKE = 15;

/**
 * Energy of a pulse of a state that is caught as one at `phase` is: whatever the form of the pulses, like phases are
 * compared. Null where the clip shows none.
 */
export function likePulse(
  pulses: readonly KnownPulse[],
  phase: number,
): { readonly energy: number; readonly scatter: number } | null {
  const near = pulses
    .map((p) => {
      const d = Math.abs(p.phase - phase);
      return { energy: p.energy, distance: Math.min(d, 1 - d) };
    })
    .filter((p) => p.distance < LIKE_PHASE)
    .sort((a, b) => a.distance - b.distance)
    .slice(0, MOST_LIKE);
  if (near.length < 3) return null;
  const sorted = near.map((p) => p.energy).sort((a, b) => a - b);
  const energy = sorted[sorted.length >> 1]!;
  const deviations = sorted.map((e) => Math.abs(e - energy)).sort((a, b) => a - b);
  return { energy, scatter: 1.48 * deviations[deviations.length >> 1]! };
}

/**
 * Energy of pulse number `n`, least squares over the frames that see it.
 * @returns `weight`: 1 where the pulse was caught whole, 0 where it fell behind closed shutters.
 */
export function pulseEnergy(
  train: PulseTrain,
  n: number,
  region: PulsedBands,
  periodS: number,
  exposure: number,
): { energy: number; weight: number } {
  let gg = 0;
  let gy = 0;
  for (const band of region.parts) {
    const startT = train.phaseT + n * train.periodT + bandStart(train.slopeT, region, band);
    const sweep = Math.abs(train.slopeT) * region.heightPx * band.extent;
    const shape = pulseForm(sweep, train.decayT);
    const reach = sweep + 3 * train.decayT + 1;
    for (let k = lowerBound(band.openS, (startT - 1.5) * periodS); k < band.openS.length; k++) {
      const openT = band.openS[k]! / periodS;
      if (openT > startT + reach) break;
      const g = responseAt(openT + exposure - startT, shape) - responseAt(openT - startT, shape);
      gg += g * g;
      gy += g * band.signal[k]!;
    }
  }
  return { energy: gg > 0 ? gy / gg : 0, weight: Math.min(1, gg / (0.5 * region.parts.length)) };
}

function lowerBound(values: Float64Array, target: number): number {
  let low = 0;
  let high = values.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (values[middle]! < target) low = middle + 1;
    else high = middle;
  }
  return low;
}
