/** Traces for the eye: mean light of each region, and the signal that its onsets were found in. */
import type { ClipOnsets } from '../clipOnsets.js';
import type { OnsetSet } from '../onset/onset.js';
import type { RegionRole } from '../region/region.js';
import { LIGHT_SCALE, type RegionSamples } from '../samples/samples.js';
import type { Trace } from '../trace/trace.js';

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
  samples,
  clock,
  exposure,
  led,
  ledTrace,
  screens,
  screenTraces,
}: ClipOnsets): RegionSignal[] {
  const sets: [OnsetSet, Trace][] = [
    [led, ledTrace],
    ...screens.map((s, i): [OnsetSet, Trace] => [s, screenTraces[i]!]),
  ];
  return sets.map(([set, trace]) => ({
    name: set.region.name,
    role: set.region.role,
    light: meanLight(samples.regions.find((r) => r.region.name === set.region.name)!, samples.frames),
    signal: plateauSignal(set),
    middleS: trace.openS[0]! - clock.capturedAtS[0]! + (exposure.fraction / 2) * clock.periodS,
  }));
}

function meanLight({ light, columns, rows }: RegionSamples, frames: number): Float32Array {
  const cells = columns * rows;
  const mean = new Float32Array(frames);
  for (let k = 0; k < frames; k++) {
    let sum = 0;
    for (let c = 0; c < cells; c++) sum += light[k * cells + c]!;
    mean[k] = sum / (cells * LIGHT_SCALE);
  }
  return mean;
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
