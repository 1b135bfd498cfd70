/** Regular ripple of a region's light while nothing in it happens: mains lamps, a dimmed backlight. */
import { powerSpectrum } from '../numeric/spectrum.js';

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
/** Half the swing over the mean below which ripple moves no light worth a word (judgement). */
const LEAST_DEPTH = 0.002;
/**
 * A Hann window spreads a wave over three bins, 1/4 of the squared amplitude in its own and 1/16 in each neighbour; from
 * frame to frame all of it and 1/4 in the one neighbour that there is.
 */
const IN_THREE_BINS = 3 / 8;
const AT_THE_LAST = 5 / 4;
/** Power over the median one of the spectrum below which it is noise; four spans or more are averaged. */
const OVER_NOISE = 8;

/**
 * Mean spectrum of the region's light over spans of quiet frames (P. D. Welch, 1967, Hann window, half overlap).
 * @param light the region's mean light, one value a frame.
 * @param quiet 1 for each frame in which nothing on the screen and at the LED changes.
 * @returns null where no span is quiet, or nothing stands out of the noise.
 */
export function rippleOf(light: Float64Array, quiet: Uint8Array, captureRateHz: number): Ripple | null {
  const last = SPAN / 2;
  const power = new Float64Array(last + 1);
  let spans = 0;
  let total = 0;
  for (let from = 0; from + SPAN <= quiet.length; ) {
    const busy = quiet.subarray(from, from + SPAN).lastIndexOf(0);
    if (busy >= 0) {
      from += busy + 1;
      continue;
    }
    const span = light.subarray(from, from + SPAN);
    // One-sided power counts every line twice but that of a light that goes up and down from frame to frame.
    powerSpectrum(span, captureRateHz).power.forEach((p, bin) => {
      power[bin]! += bin === last ? p : p / 2;
    });
    total += span.reduce((sum, v) => sum + v, 0) / SPAN;
    spans++;
    from += SPAN / 2;
  }
  if (spans < LEAST_SPANS || !(total > 0)) return null;
  const bins = power.subarray(LEAST_WAVES);
  const noise = Float64Array.from(bins).sort()[bins.length >> 1]!;
  const top = bins.reduce((best, p, i) => (p > bins[best]! ? i : best), 0);
  if (!(bins[top]! > OVER_NOISE * noise)) return null;
  const bin = top + LEAST_WAVES;
  // Light that wanders has ever more power towards slow waves, and no line among them.
  if (power[bin - 1]! > power[bin]!) return null;
  const wave = [bin - 1, bin, bin + 1].reduce((sum, b) => sum + (power[b] ?? 0), 0) / spans;
  const amplitude = Math.sqrt(wave / (bin === last ? AT_THE_LAST : IN_THREE_BINS));
  const depth = amplitude / (total / spans);
  return depth < LEAST_DEPTH ? null : { seenHz: (bin * captureRateHz) / SPAN, depth };
}
