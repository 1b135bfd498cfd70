/** Cuts the frames around candidate edges out of a projected signal, with the noise of their plateaus. */
import { levelScatter, PLATEAU_CODING } from './codingError.js';
import type { EdgeChannel, EdgeWindow } from './edgeWindow.js';

/** A place where a signal crosses from one plateau to another. */
export interface Crossing {
  /** First frame nearer to the new plateau. */
  readonly frame: number;
  readonly sign: 1 | -1;
}

/** Frames at an edge that may be partly lit. */
export const EDGE_FRAMES = 2;

/** How far a window may reach. */
export interface WindowReach {
  /** Frames of plateau on each side. */
  readonly plateauFrames: number;
  /** Frames from the crossing that may still belong to the change (slow response). */
  readonly settleFrames: number;
  /**
   * Of light that goes between the same two levels each time, so that what of them does not repeat is an error of coding:
   * frames at an edge that may show neither.
   */
  readonly betweenLevels?: number;
}

/** A band of a region's rows as a signal. */
export interface Band {
  readonly signal: Float64Array;
  /** Start of exposure of the band's rows in each frame, s. */
  readonly openS: Float64Array;
  readonly from: number;
  readonly extent: number;
  /** -1: cells that get darker where the kind of change gets brighter; left out: 1. */
  readonly way?: -1;
}

/**
 * Windows around crossings; a window never reaches into the change before or after.
 * @param whole the region's signal over all bands, on which the crossings were found.
 * @param bands one or more parts of the region.
 * @returns one window a crossing, in order; null where there is no plateau to compare with.
 */
export function cutWindows(
  whole: Band,
  bands: readonly Band[],
  periodS: number,
  crossings: readonly Crossing[],
  reach: WindowReach,
): (EdgeWindow | null)[] {
  const noises = bands.map((band) => plateauVariance(band.signal, crossings, reach));
  return crossings.map((crossing, i) => {
    const previous = crossings[i - 1]?.frame ?? -reach.settleFrames;
    const next = crossings[i + 1]?.frame ?? whole.signal.length + 2;
    const gapBefore = crossing.frame - previous;
    const first = Math.max(
      0,
      crossing.frame - 2 - reach.plateauFrames,
      previous + Math.min(reach.settleFrames, gapBefore >> 1),
    );
    const last = Math.min(
      whole.signal.length,
      crossing.frame + reach.settleFrames + reach.plateauFrames,
      Math.max(next - 2, crossing.frame + 2),
    );
    if (last - first < 4 || crossing.frame - first < 1 || last - crossing.frame < 2) return null;
    const originS = whole.openS[crossing.frame]!;
    const rising = crossing.sign > 0;
    const channels = bands.map((band, b): EdgeChannel => {
      const openT = new Float64Array(last - first);
      for (let k = first; k < last; k++) openT[k - first] = (band.openS[k]! - originS) / periodS;
      return {
        values: band.signal.slice(first, last),
        openT,
        varianceBefore: rising ? noises[b]!.low : noises[b]!.high,
        varianceAfter: rising ? noises[b]!.high : noises[b]!.low,
        codingSd: PLATEAU_CODING * noises[b]!.scatter,
        from: band.from,
        extent: band.extent,
        ...(band.way === -1 ? { way: -1 } : {}),
      };
    });
    return { firstFrame: first, originS, channels };
  });
}

/**
 * Noise variance of a frame on the lower and the upper plateau, pooled over all crossings: scatter of second
 * differences, which slow drift and ripple of many frames hardly touch.
 */
function plateauVariance(
  signal: Float64Array,
  crossings: readonly Crossing[],
  reach: WindowReach,
): { low: number; high: number; scatter: number } {
  const spreads = { low: [] as number[], high: [] as number[] };
  const steps: number[] = [];
  crossings.forEach((crossing, i) => {
    const previous = crossings[i - 1]?.frame ?? 0;
    const next = crossings[i + 1]?.frame ?? signal.length;
    const before = {
      from: Math.max(previous + reach.settleFrames, crossing.frame - 24),
      to: crossing.frame - 2,
    };
    const after = { from: crossing.frame + reach.settleFrames, to: Math.min(next - 2, crossing.frame + 28) };
    const rising = crossing.sign > 0;
    collect(signal, before, rising ? spreads.low : spreads.high);
    collect(signal, after, rising ? spreads.high : spreads.low);
    const a = signal[Math.max(0, crossing.frame - 3)]!;
    const b = signal[Math.min(signal.length - 1, crossing.frame + reach.settleFrames)]!;
    steps.push(Math.abs(b - a));
  });
  steps.sort((a, b) => a - b);
  const step = steps[steps.length >> 1] ?? 1;
  // Lossy coding leaves errors that repeat from frame to frame and so do not show in differences.
  const between = reach.betweenLevels;
  const scatter = between === undefined ? 0 : levelScatter(signal, crossings, step, between);
  const floor = (0.002 * step) ** 2 + (PLATEAU_CODING * scatter * step) ** 2 + 1e-18;
  const low = meanOf(spreads.low) ?? meanOf(spreads.high) ?? floor;
  const high = meanOf(spreads.high) ?? low;
  return { low: low + floor, high: high + floor, scatter };
}

function collect(signal: Float64Array, span: { from: number; to: number }, into: number[]): void {
  const from = Math.max(0, span.from);
  const to = Math.min(signal.length, span.to);
  if (to - from < 4) return;
  let mean = 0;
  for (let k = from; k < to; k++) mean += signal[k]! / (to - from);
  let variance = 0;
  for (let k = from; k < to; k++) variance += (signal[k]! - mean) ** 2 / (to - from - 1);
  into.push(variance);
}

/** Mean without the largest tenth, which holds the odd disturbed plateau. */
function meanOf(values: number[]): number | null {
  if (values.length === 0) return null;
  const sorted = [...values].sort((a, b) => a - b);
  const keep = Math.max(1, Math.ceil(sorted.length * 0.9));
  let sum = 0;
  for (let i = 0; i < keep; i++) sum += sorted[i]!;
  return sum / keep;
}
