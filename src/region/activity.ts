/** What moves in a shrunken clip: patches of picture whose light changes together, with the times of their changes. */
import { smallest } from '../numeric/smallest.js';

/** A clip shrunken to blocks: `frames * rows * columns` luma codes (8 bit), frame after frame. */
export interface Overview {
  readonly columns: number;
  readonly rows: number;
  readonly frames: number;
  readonly luma: Uint8Array;
  /** Camera frames per second. */
  readonly rateHz: number;
}

/** A rectangle of blocks, half-open. */
export interface BlockBox {
  readonly x0: number;
  readonly y0: number;
  readonly x1: number;
  readonly y1: number;
}

/** Neighbouring blocks that change together. */
export interface Patch {
  /** Block indices (row * columns + column). */
  readonly blocks: readonly number[];
  /** The blocks that change at least half as much as the one that changes most, without the glow around a light. */
  readonly core: readonly number[];
  /** Bounding box of the core. */
  readonly box: BlockBox;
  /** Contrast of the patch's changes at each frame, codes (rms over blocks, signed by the mean change). */
  readonly contrast: Float32Array;
  /** Frames at which it changes, with the mean change of light (codes; sign says brighter or darker). */
  readonly events: readonly { readonly frame: number; readonly change: number; readonly size: number }[];
  /** Mean absolute size of the larger changes, codes. */
  readonly strength: number;
  /** Share of frames in which the patch's mean sits near one of two levels. */
  readonly twoLevel: number;
  /** Level that the patch spends most time near: true where that is the darker one. */
  readonly restsDark: boolean;
}

// A block is active where its strongest change stands this far out of its noise, and by this many codes.
const ACTIVE_OVER_NOISE = 7;
const ACTIVE_CODES = 4;
/** No picture is quieter than this, codes. */
const QUIETEST_CODES = 0.15;
/** Columns that are turned into series at a time: a cache line of them. */
const TILE = 16;
const TOGETHER = 0.55;
/** Blocks that change at least this share of what the strongest does are the core of a patch. */
export const CORE_SHARE = 0.5;

/** Frames averaged on each side of a moment: about one refresh of a 60 Hz display, so that pulsed light evens out. */
export function contrastWindow(rateHz: number): number {
  return Math.max(2, Math.round(rateHz / 60));
}

/** For each block that changes in steps that stand out of its own unrest: its contrast at each frame, codes. */
export type BlockContrasts = ReadonlyMap<number, Float32Array>;

/**
 * Finds the patches of a clip, largest activity first.
 * @param series `blockContrasts` of the same overview.
 */
export function findPatches(overview: Overview, series = blockContrasts(overview)): Patch[] {
  const { columns } = overview;
  const norms = new Map(Array.from(series, ([b, own]) => [b, norm(own)]));
  const parent = new Map<number, number>();
  const find = (b: number): number => {
    let root = b;
    while (parent.get(root) !== root) root = parent.get(root)!;
    parent.set(b, root);
    return root;
  };
  for (const b of series.keys()) parent.set(b, b);
  for (const b of series.keys()) {
    const x = b % columns;
    // Right, below, and both diagonals; two blocks apart too, so that a still line does not split a sprite.
    const neighbours = [
      x + 1 < columns ? b + 1 : -1,
      b + columns,
      x + 1 < columns ? b + columns + 1 : -1,
      x > 0 ? b + columns - 1 : -1,
      x + 2 < columns ? b + 2 : -1,
      b + 2 * columns,
    ];
    for (const other of neighbours) {
      const theirs = series.get(other);
      if (!theirs || find(b) === find(other)) continue;
      const likeness = Math.abs(dot(series.get(b)!, theirs)) / (norms.get(b)! * norms.get(other)!);
      if (likeness > TOGETHER) parent.set(find(other), find(b));
    }
  }
  const groups = new Map<number, number[]>();
  for (const b of series.keys()) {
    const root = find(b);
    const group = groups.get(root);
    if (group) group.push(b);
    else groups.set(root, [b]);
  }
  return [...groups.values()]
    .map((group) => describePatch(overview, group, series))
    .filter((patch) => patch.events.length > 0)
    .sort((a, b) => b.strength * Math.sqrt(b.blocks.length) - a.strength * Math.sqrt(a.blocks.length));
}

/**
 * Mean of a window of frames from each frame on, less the mean of the window before it, for the blocks that are not
 * quiet. A row of blocks is read at a time: block by block, every frame would be fetched from memory again for each.
 * @param lost 1 for each frame whose picture is not known: no contrast is formed with it.
 */
export function blockContrasts(overview: Overview, lost?: Uint8Array): BlockContrasts {
  const { columns, rows, frames, luma } = overview;
  const m = contrastWindow(overview.rateHz);
  const found = new Map<number, Float32Array>();
  if (frames < 4 * m) return found;
  const stride = columns * rows;
  const sums = new Int32Array(columns);
  const largest = new Int32Array(columns);
  // Sums over the window, not yet divided by its length: whole numbers are worked through faster.
  const line = new Int32Array(frames * columns);
  const blind = new Uint8Array(frames);
  lost?.forEach((isLost, k) => {
    if (isLost) blind.fill(1, Math.max(0, k - m), k + m + 1);
  });
  const tile = new Int32Array(TILE * frames);
  const shelf = new Shelf(frames);
  for (let row = 0; row < rows; row++) {
    const at = row * columns;
    sums.fill(0);
    largest.fill(0);
    for (let j = 0; j < m; j++) {
      const after = (m + j) * stride + at;
      const before = j * stride + at;
      for (let x = 0; x < columns; x++) sums[x]! += luma[after + x]! - luma[before + x]!;
    }
    for (let k = m; k + m <= frames; k++) {
      const to = k * columns;
      if (blind[k]) line.fill(0, to, to + columns);
      else {
        for (let x = 0; x < columns; x++) {
          const value = sums[x]!;
          line[to + x] = value;
          const size = value < 0 ? -value : value;
          if (size > largest[x]!) largest[x] = size;
        }
      }
      if (k + m === frames) break;
      const after = (k + m) * stride + at;
      const here = k * stride + at;
      const before = (k - m) * stride + at;
      for (let x = 0; x < columns; x++) {
        sums[x]! += luma[after + x]! - 2 * luma[here + x]! + luma[before + x]!;
      }
    }
    for (let x0 = 0; x0 < columns; x0 += TILE) {
      const width = Math.min(TILE, columns - x0);
      for (let k = m, from = m * columns + x0; k + m <= frames; k++, from += columns) {
        for (let x = 0; x < width; x++) tile[x * frames + k] = line[from + x]!;
      }
      for (let x = 0; x < width; x++) {
        const most = largest[x0 + x]!;
        const own = tile.subarray(x * frames, (x + 1) * frames);
        if (most < ACTIVE_CODES * m || most <= ACTIVE_OVER_NOISE * quietLevel(own, m)) continue;
        const kept = shelf.next();
        for (let k = 0; k < frames; k++) kept[k] = own[k]! / m;
        found.set(at + x0 + x, kept);
      }
    }
  }
  return found;
}

/** Typical size of the contrast while nothing happens: twice the mean of the values below the overall mean; times the window. */
function quietLevel(sums: Int32Array, window: number): number {
  let total = 0;
  for (let k = 0; k < sums.length; k++) total += Math.abs(sums[k]!);
  const mean = total / sums.length;
  let sum = 0;
  let n = 0;
  for (let k = 0; k < sums.length; k++) {
    const size = Math.abs(sums[k]!);
    if (size <= mean) {
      sum += size;
      n++;
    }
  }
  return Math.max(QUIETEST_CODES * window, n > 0 ? (2 * sum) / n : mean);
}

/** Series of the same length, many in one piece of memory: thousands of small pieces cost more than what is in them. */
class Shelf {
  readonly #length: number;
  #piece = new Float32Array(0);
  #used = 0;

  constructor(length: number) {
    this.#length = length;
  }

  next(): Float32Array {
    if (this.#used === this.#piece.length) {
      this.#piece = new Float32Array(TILE * this.#length);
      this.#used = 0;
    }
    this.#used += this.#length;
    return this.#piece.subarray(this.#used - this.#length, this.#used);
  }
}

/** Inner product of two equally long arrays. */
export function dot(a: Float32Array, b: Float32Array): number {
  let sum = 0;
  for (let k = 0; k < a.length; k++) sum += a[k]! * b[k]!;
  return sum;
}

/** Length of an array as a vector. */
export function norm(a: Float32Array): number {
  return Math.sqrt(dot(a, a));
}

function describePatch(overview: Overview, group: readonly number[], series: BlockContrasts): Patch {
  return describeCore(overview, group, coreOf(group, series), series);
}

/** A patch of `group` as the blocks of `core` show it. */
export function describeCore(
  overview: Overview,
  group: readonly number[],
  core: readonly number[],
  series: BlockContrasts,
): Patch {
  const { columns, frames, rows, luma } = overview;
  const m = contrastWindow(overview.rateHz);
  const contrast = new Float32Array(frames);
  const mean = new Float32Array(frames);
  const box = { x0: columns, y0: rows, x1: 0, y1: 0 };
  for (const b of core) {
    const x = b % columns;
    const y = Math.floor(b / columns);
    box.x0 = Math.min(box.x0, x);
    box.y0 = Math.min(box.y0, y);
    box.x1 = Math.max(box.x1, x + 1);
    box.y1 = Math.max(box.y1, y + 1);
    const own = series.get(b)!;
    for (let k = 0; k < frames; k++) contrast[k]! += own[k]! * own[k]!;
  }
  // Frame after frame, as they lie in memory.
  const size = core.length;
  const places = Uint32Array.from(core);
  for (let k = 0, at = 0; k < frames; k++, at += columns * rows) {
    let sum = 0;
    for (let i = 0; i < size; i++) sum = Math.fround(sum + luma[at + places[i]!]! / size);
    mean[k] = sum;
  }
  for (let k = 0; k < frames; k++) contrast[k] = Math.sqrt(contrast[k]! / core.length);
  const events = peaks(contrast, m).map((frame) => ({
    frame,
    change: windowMean(mean, frame, frame + m) - windowMean(mean, frame - m, frame),
    size: contrast[frame]!,
  }));
  const strength = events.reduce((sum, e) => sum + e.size, 0) / Math.max(1, events.length);
  return { blocks: group, core, box, contrast, events, strength, ...levelsOf(smoothed(mean, m)) };
}

/** The blocks of a patch whose strongest changes are at least half of the patch's strongest. */
function coreOf(group: readonly number[], series: BlockContrasts): number[] {
  const sizes = new Float32Array(series.get(group[0]!)!.length);
  const strengths = group.map((b) => {
    const own = series.get(b)!;
    for (let k = 0; k < sizes.length; k++) sizes[k] = Math.abs(own[k]!);
    return smallest(sizes, Math.floor(0.99 * (sizes.length - 1)));
  });
  const most = strengths.reduce((a, b) => Math.max(a, b), 0);
  return group.filter((_, i) => strengths[i]! >= CORE_SHARE * most);
}

function windowMean(values: Float32Array, from: number, to: number): number {
  let sum = 0;
  const first = Math.max(0, from);
  const last = Math.min(values.length, to);
  for (let k = first; k < last; k++) sum += values[k]!;
  return sum / Math.max(1, last - first);
}

/** Local maxima that stand out of the curve's own middle and reach a third of its largest. */
function peaks(curve: Float32Array, m: number): number[] {
  const sorted = Float32Array.from(curve).sort();
  const top = sorted[Math.floor(0.998 * (sorted.length - 1))]!;
  const median = sorted[sorted.length >> 1]!;
  const threshold = Math.max(0.35 * top, 4 * median);
  const found: number[] = [];
  for (let k = 1; k < curve.length - 1; k++) {
    if (curve[k]! < threshold) continue;
    let isPeak = true;
    for (let d = 1; d <= m && isPeak; d++) {
      if ((curve[k - d] ?? 0) > curve[k]! || (curve[k + d] ?? 0) >= curve[k]!) isPeak = false;
    }
    if (isPeak) found.push(k);
  }
  return found;
}

/** Running mean of `m` values, so that noise does not hide two levels. */
function smoothed(values: Float32Array, m: number): Float32Array {
  const out = new Float32Array(values.length);
  let sum = 0;
  for (let k = 0; k < values.length; k++) {
    sum += values[k]!;
    if (k >= m) sum -= values[k - m]!;
    out[k] = sum / Math.min(k + 1, m);
  }
  return out;
}

function levelsOf(mean: Float32Array): { twoLevel: number; restsDark: boolean } {
  const sorted = Float32Array.from(mean).sort();
  const low = sorted[Math.floor(0.03 * sorted.length)]!;
  const high = sorted[Math.floor(0.97 * sorted.length)]!;
  const span = Math.max(1e-6, high - low);
  let near = 0;
  let dark = 0;
  for (const v of mean) {
    const share = (v - low) / span;
    if (share < 0.2 || share > 0.8) near++;
    if (share < 0.5) dark++;
  }
  return { twoLevel: near / mean.length, restsDark: dark > mean.length / 2 };
}
