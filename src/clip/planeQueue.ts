/** Turns the pieces that come out of a pipe into whole pictures, with buffers that are used again. */

/** Whole pictures of one pipe, first in first out. */
export class PlaneQueue {
  readonly #bytes: number;
  readonly #ready: Uint8Array<ArrayBuffer>[] = [];
  readonly #spare: Uint8Array<ArrayBuffer>[] = [];
  #filling: Uint8Array<ArrayBuffer>;
  #filled = 0;

  /** @param bytes of one picture. */
  constructor(bytes: number) {
    this.#bytes = bytes;
    this.#filling = new Uint8Array(bytes);
  }

  /** Number of whole pictures that wait. */
  get length(): number {
    return this.#ready.length;
  }

  /** Takes in a piece of any size. */
  push(piece: Uint8Array): void {
    let at = 0;
    while (at < piece.length) {
      const take = Math.min(this.#bytes - this.#filled, piece.length - at);
      this.#filling.set(piece.subarray(at, at + take), this.#filled);
      this.#filled += take;
      at += take;
      if (this.#filled === this.#bytes) {
        this.#ready.push(this.#filling);
        this.#filling = this.#spare.pop() ?? new Uint8Array(this.#bytes);
        this.#filled = 0;
      }
    }
  }

  /** The oldest whole picture; give it back with `recycle` when done. */
  shift(): Uint8Array<ArrayBuffer> | undefined {
    return this.#ready.shift();
  }

  /** Lets a picture's bytes be filled again. */
  recycle(plane: Uint8Array<ArrayBuffer>): void {
    this.#spare.push(plane);
  }
}

/** Timestamps from the lines of FFmpeg's framecrc output: `stream, dts, pts, duration, size, checksum`. */
export class TickQueue {
  readonly #ready: number[] = [];
  #line = '';
  /** Time base as printed in the header, `1/90000`; null before it came. */
  timeBase: string | null = null;

  /** Number of timestamps that wait. */
  get length(): number {
    return this.#ready.length;
  }

  /** Takes in a piece of text. A frame without a time reads as NaN. */
  push(piece: Uint8Array): void {
    const lines = (this.#line + Buffer.from(piece).toString('latin1')).split('\n');
    this.#line = lines.pop() ?? '';
    for (const line of lines) {
      if (line.startsWith('#')) {
        this.timeBase ??= /^#tb 0: (\d+\/\d+)/.exec(line)?.[1] ?? null;
      } else if (line !== '') {
        const pts = Number(line.split(',')[2]);
        this.#ready.push(Number.isSafeInteger(pts) ? pts : Number.NaN);
      }
    }
  }

  /** All timestamps so far, ticks. */
  all(): Float64Array {
    return Float64Array.from(this.#ready);
  }
}
