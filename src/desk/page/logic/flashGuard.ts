/**
 * Watches what is about to be shown while a clip plays. It holds a picture back before it completes more than three
 * flashes in a second (WCAG 2.2, success criterion 2.3.1), so that a person is asked first. Judged on the whole
 * picture, in cells, at the times at which the pictures are really shown.
 */
import { countFlashes, type FlashGrid, MAX_FLASHES_PER_S } from '../../../report/annotated/flashes.js';

/** Columns and rows of the cells that a picture is judged in. */
export const GUARD_COLUMNS = 16;
/** See `GUARD_COLUMNS`. */
export const GUARD_ROWS = 9;

/**
 * At most this many pictures a second cannot make more than three flashes: each flash takes two changes, and n
 * pictures a second make n changes a second, both ends of the second counted one more.
 */
export const HARMLESS_PICTURES_PER_S = 5;

/** Longer ago than this cannot matter: a swing that began earlier is long over. */
const KEPT_S = 3;

/** Speeds that are offered, as shares of real time; the slowest first. */
export const SPEEDS: readonly number[] = [1 / 64, 1 / 32, 1 / 16, 1 / 8, 1 / 4, 1 / 2, 1];

/** Pictures a second that can be shown in a browser without losing track. */
const MOST_PICTURES_PER_S = 30;

/** The fastest offered speed at which no clip can flash too often, whatever it shows; the slowest where none is. */
export function harmlessSpeed(captureRateHz: number): number {
  const harmless = SPEEDS.filter((s) => picturesPerS(captureRateHz, s).rateHz <= HARMLESS_PICTURES_PER_S);
  return harmless.at(-1) ?? SPEEDS[0]!;
}

/** How a speed is shown: pictures a second, and camera frames from one picture to the next. */
export function picturesPerS(captureRateHz: number, speed: number): { rateHz: number; framesEach: number } {
  const wanted = captureRateHz * speed;
  const framesEach = Math.max(1, Math.ceil(wanted / MOST_PICTURES_PER_S));
  return { rateHz: wanted / framesEach, framesEach };
}

/** Most flashes in one second when a signal (0..1, say of a screen region) is played at a speed. */
export function flashesAtSpeed(values: ArrayLike<number>, timesS: ArrayLike<number>, speed: number): number {
  const grids: FlashGrid[] = [];
  const shownAtS: number[] = [];
  for (let k = 0; k < values.length; k++) {
    const light = Math.min(1, Math.max(0, values[k]!));
    const code = Math.round(255 * (light <= 0.0031308 ? 12.92 * light : 1.055 * light ** (1 / 2.4) - 0.055));
    grids.push(Uint8Array.of(code, code, code));
    shownAtS.push(timesS[k]! / speed);
  }
  return countFlashes(grids, shownAtS).flashesPerS;
}

/** Remembers what was shown lately. One guard for one run of playing. */
export class FlashGuard {
  private readonly grids: FlashGrid[] = [];
  private readonly shownAtS: number[] = [];

  /**
   * Asks for a picture before it is shown.
   * @param grid colours of its cells, sRGB bytes; `atS` when it would be shown, s, on any clock.
   * @returns true where it may be shown; it is then remembered. False: it would flash too often, and is forgotten.
   */
  admits(grid: FlashGrid, atS: number): boolean {
    while (this.shownAtS.length > 1 && atS - this.shownAtS[1]! > KEPT_S) {
      this.grids.shift();
      this.shownAtS.shift();
    }
    const flashes = countFlashes([...this.grids, grid], [...this.shownAtS, atS]).flashesPerS;
    if (flashes > MAX_FLASHES_PER_S) return false;
    this.grids.push(grid);
    this.shownAtS.push(atS);
    return true;
  }
}
