/**
 * Counts flashes in moving pictures after WCAG 2.2, success criteria 2.3.1 and its definitions of "general flash and
 * red flash thresholds". Stricter in two points: every cell counts, however small its area, and an odd swing left over
 * counts as half a flash.
 */

/** Grid of colours of one picture: sRGB bytes, `3 * cells`. */
export type FlashGrid = Uint8Array;

/** More than this many flashes in any second is a hazard. */
export const MAX_FLASHES_PER_S = 3;
/** A swing: this much of the maximum relative luminance... */
const SWING = 0.1;
/** ...where the darker picture is below this. */
const DARK = 0.8;
/** Saturated red: R / (R + G + B) of linear values; and the swing of (R - G - B) * 320. */
const RED_SHARE = 0.8;
const RED_SWING = 20;

// Relative luminance of an sRGB byte (WCAG 2.2, "relative luminance").
const LINEAR = Float64Array.from({ length: 256 }, (_, code) => {
  const c = code / 255;
  return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
});

/** One end of a swing: the value and what is carried along with it. */
interface End {
  readonly value: number;
  readonly other: number;
}

/** A tracker of one value: notes when a swing of at least `size` is complete. Swings alternate up and down. */
class Swings {
  readonly atS: number[] = [];
  private readonly size: number;
  private readonly counts: (from: End, to: End) => boolean;
  private low: End;
  private high: End;
  private last: 'up' | 'down' | null = null;

  constructor(first: End, size: number, counts: (from: End, to: End) => boolean) {
    this.low = first;
    this.high = first;
    this.size = size;
    this.counts = counts;
  }

  see(now: End, timeS: number): void {
    if (now.value > this.high.value) this.high = now;
    if (now.value < this.low.value) this.low = now;
    const swing = this.last !== 'up' && this.isSwing(this.low, now) ? 'up' : null;
    const found = swing ?? (this.last !== 'down' && this.isSwing(this.high, now) ? 'down' : null);
    if (found === null) return;
    this.last = found;
    this.low = now;
    this.high = now;
    this.atS.push(timeS);
  }

  private isSwing(from: End, to: End): boolean {
    return Math.abs(to.value - from.value) >= this.size && this.counts(from, to);
  }
}

/** Most swings whose times lie within one second, ends included. */
function mostInOneSecond(atS: readonly number[]): number {
  let most = 0;
  let from = 0;
  for (let to = 0; to < atS.length; to++) {
    // Rounding must not let two swings just one second apart escape.
    while (atS[to]! - atS[from]! > 1 + 1e-9) from++;
    most = Math.max(most, to - from + 1);
  }
  return most;
}

/** Most flashes (pairs of opposing swings; an odd one counts half) in any second at any cell, and where. */
export interface FlashCount {
  readonly flashesPerS: number;
  readonly kind: 'general' | 'red';
  /** Index of the worst cell; -1 where nothing flashes. */
  readonly cell: number;
}

/**
 * The worst cell of a film.
 * @param grids one grid a picture, all of one size; `startS` when each begins to be shown, s, ascending.
 */
export function countFlashes(grids: readonly FlashGrid[], startS: readonly number[]): FlashCount {
  const cells = (grids[0]?.length ?? 0) / 3;
  let worst: FlashCount = { flashesPerS: 0, kind: 'general', cell: -1 };
  const general = (from: End, to: End) => Math.min(from.value, to.value) < DARK;
  const red = (from: End, to: End) => Math.max(from.other, to.other) >= RED_SHARE;
  for (let cell = 0; cell < cells; cell++) {
    const first = coloursAt(grids[0]!, cell);
    const light = new Swings(first.light, SWING, general);
    const redness = new Swings(first.red, RED_SWING, red);
    for (const [i, grid] of grids.entries()) {
      const colours = coloursAt(grid, cell);
      light.see(colours.light, startS[i]!);
      redness.see(colours.red, startS[i]!);
    }
    for (const [kind, { atS }] of [
      ['general', light],
      ['red', redness],
    ] as const) {
      const flashesPerS = mostInOneSecond(atS) / 2;
      if (flashesPerS > worst.flashesPerS) worst = { flashesPerS, kind, cell };
    }
  }
  return worst;
}

function coloursAt(grid: FlashGrid, cell: number): { light: End; red: End } {
  const r = LINEAR[grid[3 * cell]!]!;
  const g = LINEAR[grid[3 * cell + 1]!]!;
  const b = LINEAR[grid[3 * cell + 2]!]!;
  const sum = r + g + b;
  return {
    light: { value: 0.2126 * r + 0.7152 * g + 0.0722 * b, other: 0 },
    red: { value: Math.max(0, (r - g - b) * 320), other: sum > 0 ? r / sum : 0 },
  };
}
