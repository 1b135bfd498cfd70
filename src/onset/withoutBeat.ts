/** A region's light with the beat of its pulses taken out. */
import type { Trace } from '../trace/trace.js';
import type { Beat } from './beat.js';
import { binsFor, upperGain } from './beatCurve.js';

// Frames that meet less than this share of the brightest say nothing about the picture.
const DARK_GAIN = 0.35;

/**
 * The trace with the beat taken out: where two states are known, like phases of both are compared (tone curves bend
 * near white, so that bright flashes are no multiple of dim ones); else light over gain. Frames that met hardly any light take their neighbours' place,
 * so what is made here serves to find changes, not to time them.
 */
export function withoutBeat(trace: Trace, beat: Beat): Trace {
  const { frames, cells } = trace;
  const light = new Float32Array(trace.light.length);
  for (let c = 0; c < cells; c++) {
    const gain = beat.gains[beat.bandOfCell[c]!]!;
    const steady = beat.steady[beat.bandOfCell[c]!]!;
    const dark = DARK_GAIN * upperGain(gain);
    const dim = beat.dimLight[beat.bandOfCell[c]!] ?? null;
    const own = dim ? cellDimLight(trace, beat, c, dim, steady) : null;
    let last = -1;
    for (let k = 0; k < frames; k++) {
      if (gain[k]! < dark) continue;
      const lit = trace.light[k * cells + c]! - steady;
      const value = steady + (own ? (lit - own(k)) / gain[k]! : lit / gain[k]!);
      light[k * cells + c] = value;
      // A gap belongs half to the frame before it and half to the one after it.
      const middle = last < 0 ? 0 : (last + k + 1) >> 1;
      for (let g = last + 1; g < k; g++) {
        light[g * cells + c] = g < middle ? light[last * cells + c]! : value;
      }
      last = k;
    }
    if (last < 0) continue;
    for (let g = last + 1; g < frames; g++) light[g * cells + c] = light[last * cells + c]!;
  }
  return { ...trace, light, noise: noiseOf(light, frames, cells, trace.noise) };
}

/** A cell's own dim light in each frame: its mean in like phases, or its share of the band's where there is none. */
function cellDimLight(
  trace: Trace,
  beat: Beat,
  cell: number,
  dim: Float32Array,
  steady: number,
): (frame: number) => number {
  const bins = binsFor(beat.dimFrames.length);
  const sum = new Float64Array(bins);
  const count = new Float64Array(bins);
  const binOf = (k: number) => {
    const turns = (trace.openS[k]! / trace.periodS) * beat.perFrame;
    return Math.min(bins - 1, Math.floor((turns - Math.floor(turns)) * bins));
  };
  let own = 0;
  let all = 0;
  for (const k of beat.dimFrames) {
    const lit = trace.light[k * trace.cells + cell]! - steady;
    const bin = binOf(k);
    sum[bin]! += lit;
    count[bin]!++;
    own += lit;
    all += dim[k]!;
  }
  const part = all > 0 ? Math.max(0, Math.min(4, own / all)) : 0;
  return (k) => {
    const bin = binOf(k);
    return count[bin]! >= 3 ? sum[bin]! / count[bin]! : part * dim[k]!;
  };
}

/** Noise of the cleaned cells: never less than before, more where the beat left something. */
function noiseOf(light: Float32Array, frames: number, cells: number, before: Float32Array): Float32Array {
  return before.map((floor, c) => {
    const steps: number[] = [];
    for (let k = 2; k < frames; k += Math.max(1, Math.floor(frames / 400))) {
      steps.push(Math.abs(light[k * cells + c]! - light[(k - 1) * cells + c]!));
    }
    steps.sort((a, b) => a - b);
    const quiet = steps.filter((s) => s > 0);
    const median = quiet[quiet.length >> 1] ?? 0;
    // Of the light as it came, the differences were the beat's own; what cleaning left is what counts.
    return Math.max(Math.min(floor, 1e-3), median / (0.6745 * Math.SQRT2));
  });
}

/** The trace with the light taken off that does not follow the pulses. */
export function withoutSteady(trace: Trace, beat: Beat): Trace {
  const { cells } = trace;
  const light = trace.light.map((v, i) => v - beat.steady[beat.bandOfCell[i % cells]!]!);
  return { ...trace, light };
}
