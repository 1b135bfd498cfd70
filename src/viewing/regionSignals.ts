/** Traces for the eye: mean light of each region, and the signal that its onsets were found in. */
import type { ClipFindings } from '../clipFindings.js';
import type { OnsetSet } from '../onset/onset.js';
import type { RegionRole } from '../region/region.js';
import { LIGHT_SCALE } from '../samples/samples.js';

/** One region over the used frames. */
export interface RegionSignal {
  readonly name: string;
  readonly role: RegionRole;
  /** Mean linear light, 0..1, one a used frame. */
  readonly light: Float32Array;
  /** The light along the main kind of change, 0 at its lower and 1 at its upper plateau; null where nothing changes. */
  readonly signal: Float32Array | null;
  /** From a frame's time to the middle of its exposure at the region's rows, s. */
  readonly middleS: number;
}

/** The signals of the LED and of every screen region. */
export function regionSignals({
  clock,
  exposure,
  led,
  ledLight,
  screens,
  screenLights,
}: ClipFindings): RegionSignal[] {
  const lights = [ledLight, ...screenLights];
  return [led, ...screens].map((set: OnsetSet, i) => ({
    name: set.region.name,
    role: set.region.role,
    light: Float32Array.from(lights[i]!.meanLight, (light) => light / LIGHT_SCALE),
    signal: plateauSignal(set),
    middleS: lights[i]!.rowDelayS + (exposure.fraction / 2) * clock.periodS,
  }));
}

function plateauSignal({ onsets, signals }: OnsetSet): Float32Array | null {
  const [signal] = signals;
  const main = onsets.filter((o) => o.kind === 0);
  if (!signal || main.length === 0) return null;
  const low = median(main.map((o) => Math.min(o.before, o.after)));
  const high = median(main.map((o) => Math.max(o.before, o.after)));
  return high > low ? Float32Array.from(signal, (v) => (v - low) / (high - low)) : null;
}

function median(values: readonly number[]): number {
  return [...values].sort((a, b) => a - b)[values.length >> 1]!;
}
