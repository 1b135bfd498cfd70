/** Keeps the pictures that were shown or will be shown soon, and asks for each only once. */

/** Fetches one frame as a picture file. */
export type FetchFrame = (frame: number, signal: AbortSignal) => Promise<Blob>;

/** So many picture files are kept (about 0.1 MB each). */
const SHELF = 72;
/** So many frames ahead are asked for while stepping. */
const AHEAD = 4;

/** A shelf for one clip and one size of picture. */
export class FrameShelf {
  private readonly fetchFrame: FetchFrame;
  private readonly frames: number;
  private turn = 0;
  private readonly kept = new Map<number, { blob: Promise<Blob>; stop: AbortController }>();

  constructor(fetchFrame: FetchFrame, frames: number) {
    this.fetchFrame = fetchFrame;
    this.frames = frames;
  }

  /** The picture file of a frame. */
  get(frame: number): Promise<Blob> {
    const known = this.kept.get(frame);
    if (known) {
      this.kept.delete(frame);
      this.kept.set(frame, known);
      return known.blob;
    }
    const stop = new AbortController();
    const blob = this.fetchFrame(frame, stop.signal);
    this.kept.set(frame, { blob, stop });
    // A failed picture must not stay on the shelf.
    blob.catch(() => this.kept.delete(frame));
    for (const [oldest] of this.kept) {
      if (this.kept.size <= SHELF) break;
      this.kept.delete(oldest);
    }
    return blob;
  }

  /** Asks for the frames that come next in a direction, `by` apart, one after the other; a newer call ends an older. */
  async readAhead(frame: number, by: number): Promise<void> {
    const turn = ++this.turn;
    for (let i = 1; i <= AHEAD && turn === this.turn; i++) {
      const next = frame + i * by;
      if (next < 0 || next >= this.frames) return;
      await this.get(next).catch(() => undefined);
    }
  }

  /** Stops all that is under way. */
  close(): void {
    this.turn++;
    for (const { stop } of this.kept.values()) stop.abort();
    this.kept.clear();
  }
}
