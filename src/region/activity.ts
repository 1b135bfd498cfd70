/** What moves in a shrunken clip: how the light of each block that is not quiet changes. */

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

/** A block is active where its strongest change stands this far out of its noise. */
export const ACTIVE_OVER_NOISE = 7;
/** Codes by which a block must change. */
export const ACTIVE_CODES = 4;
/** No picture is quieter than this, codes. */
const QUIETEST_CODES = 0.15;
/** Columns that are turned into series at a time: a cache line of them. */
const TILE = 16;

/** Frames averaged on each side of a moment: about one refresh of a 60 Hz display, so that pulsed light evens out. */
export function contrastWindow(rateHz: number): number {
  return Math.max(2, Math.round(rateHz / 60));
}

/** For each block that changes in steps that stand out of its own unrest: its contrast at each frame, codes. */
export type BlockContrasts = ReadonlyMap<number, Float32Array>;

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
