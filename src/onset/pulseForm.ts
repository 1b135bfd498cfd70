/** How one pulse of a tube (or one flash of a backlight) lights a band of rows. */
import { type EdgeShape, responseAt } from './edgeShape.js';
import type { Band } from './windows.js';

/** A lattice of pulses without its period. Times in capture periods from the first frame's timestamp. */
export interface PulseForm {
  /** A pulse reaches the top row of the upright picture (whether the screen is there or not) at `phaseT + n * periodT`. */
  readonly phaseT: number;
  /** Time from one upright pixel row to the next (negative: upwards). */
  readonly slopeT: number;
  /** Time constant with which the light dies away; of a backlight's flash (slope 0) a third of its length. */
  readonly decayT: number;
  /** Exposure fraction that goes with it: pulses that beat against the frames measure it. */
  readonly exposure: number;
}

/** Start of a pulse in a band (its first line) after the pulse passes the picture's top row, capture periods. */
export function bandStart(
  slopeT: number,
  region: { readonly topPx: number; readonly heightPx: number },
  band: Pick<Band, 'from' | 'extent'>,
): number {
  const top = region.topPx + band.from * region.heightPx;
  return Math.min(slopeT * top, slopeT * (top + band.extent * region.heightPx));
}

/**
 * Share of a pulse's light that has come `t` periods after it starts in a band, tabulated. A tube's beam sweeps over
 * the lines and its phosphor dies away; a backlight's flash (no sweep at all) is steady for three `decayT`.
 */
export function pulseTable(sweepT: number, decayT: number): (t: number) => number {
  const form: EdgeShape = sweepT === 0 ? { tauT: 0, sweepT: 3 * decayT } : { tauT: decayT, sweepT };
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
