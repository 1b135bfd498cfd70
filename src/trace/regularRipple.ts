/** Regular ripple of a region's light while nothing in it happens: mains lamps, a dimmed backlight. */
import type { RegionSamples } from '../samples/samples.js';

/** The strongest ripple of a region. */
export interface Ripple {
  /** As the camera sees it: folded below half the capture rate, Hz. */
  readonly seenHz: number;
  /** Half its swing over the mean light. */
  readonly depth: number;
}

/** Frames that are looked at together. */
const SPAN = 64;
const LEAST_SPANS = 3;
/** Slower than so many waves a span is the hand or a drift, no ripple. */
const LEAST_WAVES = 5;
/** Power over the median one of the spectrum below which it is noise; four spans or more are averaged. */
const OVER_NOISE = 8;

/**
 * Mean spectrum of the region's mean light over spans of quiet frames (P. D. Welch, 1967, Hann window, half overlap).
 * @param quiet 1 for each frame in which nothing on the screen and at the LED changes.
 * @returns null where no span is quiet, or nothing stands out of the noise.
 */
export function rippleOf(region: RegionSamples, quiet: Uint8Array, captureRateHz: number): Ripple | null {
  const light = meanLightOf(region, quiet.length);
  const power = new Float64Array(SPAN / 2 + 1);
  let spans = 0;
  let mean = 0;
  for (let from = 0; from + SPAN <= quiet.length; ) {
    const busy = quiet.subarray(from, from + SPAN).lastIndexOf(0);
    if (busy >= 0) {
      from += busy + 1;
      continue;
    }
    mean += addSpectrum(light.subarray(from, from + SPAN), power);
    spans++;
    from += SPAN / 2;
  }
  if (spans < LEAST_SPANS || !(mean > 0)) return null;
  const bins = power.subarray(LEAST_WAVES);
  const noise = Float64Array.from(bins).sort()[bins.length >> 1]!;
  const top = bins.reduce((best, p, i) => (p > bins[best]! ? i : best), 0);
  if (!(bins[top]! > OVER_NOISE * noise)) return null;
  const bin = top + LEAST_WAVES;
  // A Hann window spreads a wave over three bins: their power together is 3/8 of the wave's squared amplitude times the span.
  const wave = [bin - 1, bin, bin + 1].reduce((sum, b) => sum + (power[b] ?? 0), 0) / spans;
  const amplitude = Math.sqrt(wave / (bin === SPAN / 2 ? 0.75 : 0.375)) / (SPAN / 2);
  return { seenHz: (bin * captureRateHz) / SPAN, depth: amplitude / (mean / spans) };
}

function meanLightOf({ light, columns, rows }: RegionSamples, frames: number): Float64Array {
  const cells = columns * rows;
  return Float64Array.from({ length: frames }, (_, k) => {
    let sum = 0;
    for (let c = 0; c < cells; c++) sum += light[k * cells + c]!;
    return sum / cells;
  });
}

/** Adds the power of each frequency; returns the mean light. */
function addSpectrum(light: Float64Array, power: Float64Array): number {
  const mean = light.reduce((sum, v) => sum + v, 0) / SPAN;
  const shaped = light.map((v, k) => (v - mean) * 0.5 * (1 - Math.cos((2 * Math.PI * k) / SPAN)));
  for (let bin = 0; bin < power.length; bin++) {
    let re = 0;
    let im = 0;
    for (let k = 0; k < SPAN; k++) {
      const turn = (2 * Math.PI * bin * k) / SPAN;
      re += shaped[k]! * Math.cos(turn);
      im += shaped[k]! * Math.sin(turn);
    }
    power[bin]! += re * re + im * im;
  }
  return mean;
}
