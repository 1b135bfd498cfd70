/** One region's light over the clip as a vector signal: which cells carry it, how noisy each is, when each frame saw it. */
import type { CaptureClock } from '../clip/captureClock.js';
import type { Region } from '../region/region.js';
import { type ClipSamples, LIGHT_SCALE, type RegionSamples } from '../samples/samples.js';
import { meanLightOf } from './meanLight.js';
import { straightLight } from './toneBend.js';

/** The signal of one region. Cells that clip are left out, so that partial frames keep their meaning. */
export interface Trace {
  readonly region: Region;
  readonly frames: number;
  /** Number of cells that carry the signal. */
  readonly cells: number;
  /** `frames * cells`, linear light 0..1. */
  readonly light: Float32Array;
  /** Standard deviation of one cell's light from frame to frame, robust; one a cell. */
  readonly noise: Float32Array;
  /** Start of exposure of the region's middle row in each frame, s on the capture clock. */
  readonly openS: Float64Array;
  /** How far down the upright region the middle of each cell lies, 0 (top) .. 1; one a cell. */
  readonly down: Float32Array;
  /** Share of the region's height that each cell covers: those of the last row may be cut short. */
  readonly tall: Float32Array;
  /** Start of exposure of each cell's rows after that of the region's middle, s; one a cell. */
  readonly openOffsetS: Float32Array;
  /** Capture period, s. */
  readonly periodS: number;
  /** Periods missing before each frame. */
  readonly missingBefore: Uint16Array;
  /** How many cells of the region each cell stands for, by rows; left out where each stands for itself. */
  readonly standsFor?: Float32Array;
  /** Share (0..1) of the region's cells that clip. */
  readonly clippedCells: number;
  /** True where clipped cells had to be used, since the others say nothing. */
  readonly saturated: boolean;
}

// A cell that clips in more than this share of frames says nothing about partial light.
const CLIPPED_SHARE = 0.003;
// Fewer rows than this share of a screen's say little about how it is drawn.
const LEAST_ROWS_LEFT = 0.5;

/** What else is done to a region's light. */
export interface TraceOptions {
  /** Factor of each frame from a region that shows the lamp only, which takes out ripple and exposure steps. */
  readonly gain?: Float64Array | undefined;
  /** Bend of the camera's tone curve to take out, see `straightLight`. */
  readonly bend?: number;
  /** Uses the cells that clip as well. */
  readonly keepClipped?: boolean;
}

/**
 * The trace of one region.
 * @param readoutFraction time between the first and the last row's start of exposure, in capture periods.
 */
export function makeTrace(
  samples: ClipSamples,
  regionName: string,
  clock: Pick<CaptureClock, 'capturedAtS' | 'periodS' | 'missingBefore'>,
  readoutFraction: number,
  { gain, bend = 0, keepClipped = false }: TraceOptions = {},
): Trace {
  const source = samples.regions.find((r) => r.region.name === regionName);
  if (!source) throw new Error(`no samples of a region called ${regionName}`);
  const all = source.columns * source.rows;
  const { used, saturated } = usableCells(source, keepClipped);
  const { frames } = samples;
  const light = usedLight(source.light, all, Uint32Array.from(used), frames, bend, gain);
  let position = 0;
  for (const c of used) position += source.readoutPosition[c]! / used.length;
  const shift = readoutFraction * clock.periodS * position;
  return {
    region: source.region,
    frames,
    cells: used.length,
    light,
    noise: cellNoise(light, frames, used.length),
    openS: clock.capturedAtS.map((t) => t + shift),
    ...cellRows(source, used),
    ...(used.length < all ? { standsFor: standsFor(source, used) } : {}),
    openOffsetS: Float32Array.from(
      used,
      (c) => readoutFraction * clock.periodS * (source.readoutPosition[c]! - position),
    ),
    periodS: clock.periodS,
    missingBefore: clock.missingBefore,
    clippedCells: 1 - cleanCells(source).length / all,
    saturated,
  };
}

/** Where cells lie: all rows are `cellPx` tall but the last, which ends with the region. */
function cellRows(
  { columns, cellPx, region }: RegionSamples,
  used: readonly number[],
): Pick<Trace, 'down' | 'tall'> {
  const rows = used.map((c) => {
    const top = Math.floor(c / columns) * cellPx;
    return { top, bottom: Math.min(region.height, top + cellPx) };
  });
  return {
    down: Float32Array.from(rows, ({ top, bottom }) => (top + bottom) / 2 / region.height),
    tall: Float32Array.from(rows, ({ top, bottom }) => (bottom - top) / region.height),
  };
}

/**
 * How many cells each used one stands for: those of its row, and of the rows nearest to it that have none left. A screen
 * is drawn row by row, so that its answer must not become that of the rows in which the most cells are left.
 */
function standsFor({ columns, rows }: RegionSamples, used: readonly number[]): Float32Array {
  const rowOf = (c: number) => Math.floor(c / columns);
  const left = new Float64Array(rows);
  for (const c of used) left[rowOf(c)]!++;
  const kept = Array.from(left.keys()).filter((r) => left[r]! > 0);
  const cells = new Float64Array(rows);
  for (let r = 0; r < rows; r++) {
    const distance = Math.min(...kept.map((k) => Math.abs(k - r)));
    const nearest = kept.filter((k) => Math.abs(k - r) === distance);
    for (const k of nearest) cells[k]! += columns / nearest.length;
  }
  return Float32Array.from(used, (c) => cells[rowOf(c)]! / left[rowOf(c)]!);
}

/** Stretch of a region's height that some of its cells cover together, 0 (top) .. 1. */
export function stretchOf(
  { down, tall }: Pick<Trace, 'down' | 'tall'>,
  cells: readonly number[],
): { readonly from: number; readonly extent: number } {
  let from = 1;
  let to = 0;
  for (const c of cells) {
    from = Math.min(from, down[c]! - tall[c]! / 2);
    to = Math.max(to, down[c]! + tall[c]! / 2);
  }
  return { from, extent: Math.max(0, to - from) };
}

/** Light of the used cells in every frame, `frames * used.length`. */
function usedLight(
  counts: Uint16Array,
  all: number,
  used: Uint32Array,
  frames: number,
  bend: number,
  gains: Float64Array | undefined,
): Float32Array {
  const cells = used.length;
  const light = new Float32Array(frames * cells);
  if (bend !== 0) {
    const straight = Float32Array.from({ length: 65_536 }, (_, count) =>
      straightLight(count / LIGHT_SCALE, bend),
    );
    for (let k = 0, to = 0, from = 0; k < frames; k++, from += all) {
      const gain = gains ? gains[k]! : 1;
      for (let c = 0; c < cells; c++) light[to++] = straight[counts[from + used[c]!]!]! * gain;
    }
    return light;
  }
  // Most often nothing clips, and the cells need no looking up.
  const isWhole = cells === all;
  for (let k = 0, to = 0, from = 0; k < frames; k++, from += all) {
    const gain = (gains ? gains[k]! : 1) / LIGHT_SCALE;
    if (isWhole) for (const end = to + cells; to < end; to++) light[to] = counts[to]! * gain;
    else for (let c = 0; c < cells; c++) light[to++] = counts[from + used[c]!]! * gain;
  }
  return light;
}

function usableCells(source: RegionSamples, keepClipped: boolean): { used: number[]; saturated: boolean } {
  const all = source.columns * source.rows;
  const clean = cleanCells(source);
  // An LED that clips in its core is still measured by its halo, as long as a few cells of it are left; a screen, which is
  // drawn row by row, by what is left of most of its rows.
  const rowsLeft = new Set(clean.map((c) => Math.floor(c / source.columns))).size;
  const areSpread = source.region.role === 'led' || rowsLeft >= LEAST_ROWS_LEFT * source.rows;
  const suffice = clean.length >= Math.max(4, 0.05 * all) && areSpread;
  if (clean.length === all || (!keepClipped && suffice)) return { used: clean, saturated: false };
  return { used: Array.from({ length: all }, (_, c) => c), saturated: true };
}

function cleanCells({ clippedShare }: RegionSamples): number[] {
  const clean: number[] = [];
  clippedShare.forEach((share, c) => {
    if (share <= CLIPPED_SHARE) clean.push(c);
  });
  return clean;
}

/** Frame-to-frame noise of each cell: median absolute first difference, scaled to a standard deviation. */
function cellNoise(light: Float32Array, frames: number, cells: number): Float32Array {
  const noise = new Float32Array(cells);
  const stride = Math.max(1, Math.floor(frames / 400));
  const differences = new Float32Array(Math.max(0, Math.floor((frames - 1) / stride)));
  for (let c = 0; c < cells; c++) {
    for (let i = 0; i < differences.length; i++) {
      const k = i * stride;
      differences[i] = Math.abs(light[(k + 1) * cells + c]! - light[k * cells + c]!);
    }
    differences.sort();
    const median = differences.length > 0 ? differences[differences.length >> 1]! : 0;
    noise[c] = median / (0.6745 * Math.SQRT2);
  }
  // Quantisation can make a cell look noiseless; half a code step of 8 bit in the dark is the least it can have.
  const floor = 0.3 / (4.5 * 219);
  for (let c = 0; c < cells; c++) noise[c] = Math.max(noise[c]!, floor);
  return noise;
}

/** Inner product of every frame with a direction in cell space; one value a frame. */
export function project(trace: Trace, direction: Float64Array): Float64Array {
  const { frames, cells, light } = trace;
  const out = new Float64Array(frames);
  let k = 0;
  // Four frames side by side, since a sum waits for the one before it; each keeps its order of cells.
  for (; k + 4 <= frames; k += 4) {
    let sum0 = 0;
    let sum1 = 0;
    let sum2 = 0;
    let sum3 = 0;
    const to = (k + 1) * cells;
    for (let at = k * cells, c = 0; at < to; at++, c++) {
      const along = direction[c]!;
      sum0 += light[at]! * along;
      sum1 += light[at + cells]! * along;
      sum2 += light[at + 2 * cells]! * along;
      sum3 += light[at + 3 * cells]! * along;
    }
    out[k] = sum0;
    out[k + 1] = sum1;
    out[k + 2] = sum2;
    out[k + 3] = sum3;
  }
  for (; k < frames; k++) {
    let sum = 0;
    const base = k * cells;
    for (let c = 0; c < cells; c++) sum += light[base + c]! * direction[c]!;
    out[k] = sum;
  }
  return out;
}

/** Mean light vector over the frames `from` (inclusive) to `to` (exclusive). */
export function meanLight(trace: Trace, from: number, to: number): Float64Array {
  const { cells, light } = trace;
  const out = new Float64Array(cells);
  const first = Math.max(0, from);
  const last = Math.min(trace.frames, to);
  for (let k = first; k < last; k++) {
    for (let c = 0; c < cells; c++) out[c]! += light[k * cells + c]!;
  }
  const n = Math.max(1, last - first);
  for (let c = 0; c < cells; c++) out[c]! /= n;
  return out;
}

/**
 * Gain that takes the lamp's ripple and exposure steps out of the other traces, from a reference region:
 * its median light over its light, one factor a frame.
 */
export function lampGain(samples: ClipSamples, regionName: string): Float64Array {
  const source = samples.regions.find((r) => r.region.name === regionName);
  if (!source) throw new Error(`no samples of a region called ${regionName}`);
  const means = meanLightOf(source, samples.frames);
  const median = [...means].sort((a, b) => a - b)[samples.frames >> 1] ?? 1;
  return means.map((m) => (m > 0 ? median / m : 1));
}
