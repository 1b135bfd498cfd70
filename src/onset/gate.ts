/** A backlight that is switched on and off in a fixed rhythm, and what of its light an exposure catches. */

/** Times in capture periods from the first frame's timestamp. */
export interface Gate {
  /** The light comes on at `startT + n * periodT`. */
  readonly startT: number;
  readonly periodT: number;
  /** Share of a period in which it is on. */
  readonly duty: number;
  /** Exposure fraction that goes with it (the two together make the partly lit frames). */
  readonly exposure: number;
  /** Standard uncertainty of it. */
  readonly exposureSd: number;
  /** Share of the light that the rhythm does not explain. */
  readonly residual: number;
  /** Standard uncertainty of `startT`: wide where the rhythm is locked to the frames. */
  readonly startSdT: number;
  /** True where the light may as well come on at a rate that is none of a display's refresh rates. */
  readonly mayBeDimmer?: boolean;
}

/** Light let through in `t` periods of time from the gate's first opening. */
export function passed(t: number, { periodT, duty }: Pick<Gate, 'periodT' | 'duty'>): number {
  const n = Math.floor(t / periodT);
  return n * duty * periodT + Math.min(t - n * periodT, duty * periodT);
}

/** Time for which the gate is open during an exposure that begins at `openT`, capture periods. */
export function gateLight(
  gate: Pick<Gate, 'startT' | 'periodT' | 'duty'>,
  openT: number,
  exposure: number,
): number {
  const since = openT - gate.startT;
  return passed(since + exposure, gate) - passed(since, gate);
}

/** Stretches of an exposure in which the gate is open: pairs of times after the exposure begins, capture periods. */
export function gateOpenings(gate: Gate, openT: number): Float64Array {
  const { startT, periodT, duty, exposure } = gate;
  const out: number[] = [];
  for (let n = Math.floor((openT - startT) / periodT - duty); ; n++) {
    const from = startT + n * periodT - openT;
    if (from >= exposure) break;
    const a = Math.max(0, from);
    const b = Math.min(exposure, from + duty * periodT);
    if (b > a) out.push(a, b);
  }
  return Float64Array.from(out);
}
