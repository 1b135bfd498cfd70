/** What moves in a shrunken clip: patches of picture whose light changes together, with the times of their changes. */

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
const TOGETHER = 0.55;
const CORE_SHARE = 0.5;

/** Frames averaged on each side of a moment: about one refresh of a 60 Hz display, so that pulsed light evens out. */
export function contrastWindow(rateHz: number): number {
  return Math.max(2, Math.round(rateHz / 60));
}

/** Finds the patches of a clip, largest activity first. */
export function findPatches(overview: Overview): Patch[] {
  const { columns, rows, frames } = overview;
  const m = contrastWindow(overview.rateHz);
  if (frames < 4 * m) return [];
  const blocks = columns * rows;
  const series = new Map<number, Float32Array>();
  for (let b = 0; b < blocks; b++) {
    const contrast = blockContrast(overview, b, m);
    if (contrast) series.set(b, contrast);
  }
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
      if (Math.abs(correlation(series.get(b)!, theirs)) > TOGETHER) parent.set(find(other), find(b));
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
    .map((group) => describePatch(overview, group, series, m))
    .filter((patch) => patch.events.length > 0)
    .sort((a, b) => b.strength * Math.sqrt(b.blocks.length) - a.strength * Math.sqrt(a.blocks.length));
}

/** 1 for each block that changes in steps that stand out of its own unrest. */
export function activeBlocks(overview: Overview): Uint8Array {
  const m = contrastWindow(overview.rateHz);
  const active = new Uint8Array(overview.columns * overview.rows);
  if (overview.frames < 4 * m) return active;
  for (let b = 0; b < active.length; b++) if (blockContrast(overview, b, m)) active[b] = 1;
  return active;
}

/** Mean of the `m` frames from k on, less the mean of the `m` frames before k; null where the block is quiet. */
function blockContrast(overview: Overview, block: number, m: number): Float32Array | null {
  const { columns, rows, frames, luma } = overview;
  const stride = columns * rows;
  const out = new Float32Array(frames);
  let sum = 0;
  for (let j = 0; j < m; j++) sum += luma[(m + j) * stride + block]! - luma[j * stride + block]!;
  let largest = 0;
  let total = 0;
  for (let k = m; k + m <= frames; k++) {
    const value = sum / m;
    out[k] = value;
    const size = Math.abs(value);
    if (size > largest) largest = size;
    total += size;
    if (k + m < frames) {
      sum +=
        luma[(k + m) * stride + block]! - 2 * luma[k * stride + block]! + luma[(k - m) * stride + block]!;
    }
  }
  if (largest < ACTIVE_CODES) return null;
  const noise = quietLevel(out, total / frames);
  return largest > ACTIVE_OVER_NOISE * noise ? out : null;
}

/** Typical size of the contrast while nothing happens: mean of the values below the overall mean. */
function quietLevel(contrast: Float32Array, mean: number): number {
  let sum = 0;
  let n = 0;
  for (const v of contrast) {
    const size = Math.abs(v);
    if (size <= mean) {
      sum += size;
      n++;
    }
  }
  return Math.max(0.15, n > 0 ? (2 * sum) / n : mean);
}

function correlation(a: Float32Array, b: Float32Array): number {
  let ab = 0;
  let aa = 0;
  let bb = 0;
  for (let k = 0; k < a.length; k++) {
    ab += a[k]! * b[k]!;
    aa += a[k]! * a[k]!;
    bb += b[k]! * b[k]!;
  }
  return aa > 0 && bb > 0 ? ab / Math.sqrt(aa * bb) : 0;
}

function describePatch(
  overview: Overview,
  group: readonly number[],
  series: ReadonlyMap<number, Float32Array>,
  m: number,
): Patch {
  const { columns, frames, rows, luma } = overview;
  const contrast = new Float32Array(frames);
  const mean = new Float32Array(frames);
  const box = { x0: columns, y0: rows, x1: 0, y1: 0 };
  const core = coreOf(group, series);
  for (const b of core) {
    const x = b % columns;
    const y = Math.floor(b / columns);
    box.x0 = Math.min(box.x0, x);
    box.y0 = Math.min(box.y0, y);
    box.x1 = Math.max(box.x1, x + 1);
    box.y1 = Math.max(box.y1, y + 1);
    const own = series.get(b)!;
    for (let k = 0; k < frames; k++) {
      contrast[k]! += own[k]! * own[k]!;
      mean[k]! += luma[k * columns * rows + b]! / core.length;
    }
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
function coreOf(group: readonly number[], series: ReadonlyMap<number, Float32Array>): number[] {
  const strengths = group.map((b) => {
    const sorted = series.get(b)!.map(Math.abs).sort();
    return sorted[Math.floor(0.99 * (sorted.length - 1))]!;
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
