/** The uncertainty of a latency to expect before anything is filmed, from capture rate, exposure and noise. */
import { expected } from '../errors.js';
import { normalCdf, normalPdf } from '../numeric/normal.js';
import { TONE_LEFT_T } from './lightDoubts.js';

/** What is known of the camera and the light before filming. */
export interface ExpectedSetting {
  readonly captureRateHz: number;
  /** Shutter open time over capture period, 0 < e <= 1. */
  readonly exposureFraction: number;
  /** Step of a region's light over the noise of its mean in one frame; 50 by default, a clear flash. */
  readonly signalToNoise?: number;
}

const PLAIN_SIGNAL_TO_NOISE = 50;
/** Plateau frames before an edge that are averaged. */
const DARK_FRAMES = 10;

/**
 * RMS error of the best estimate (posterior mean) of one instant edge at a random phase, capture periods. The light of
 * the one partly lit frame is fh with noise s = sqrt(1 + 1/N0) / SNR; the edge lies in the open time (share f = fh
 * within noise) or in the closed time (1 - e) T before or after. The mean square over fh of the distance of the
 * posterior's mean (S. Kay, Fundamentals of Statistical Signal Processing I, ch. 3 and 10: bound e T / SNR for a partly
 * lit edge, (1 - e) T / sqrt(12) for one behind the shutter) is integrated.
 */
export function expectedEdgeError(exposureFraction: number, signalToNoise = PLAIN_SIGNAL_TO_NOISE): number {
  const e = exposureFraction;
  if (!(e > 0 && e <= 1)) throw expected('exposureFraction', 'above 0 and at most 1', e);
  if (!(signalToNoise > 0)) throw expected('signalToNoise', 'a positive number', signalToNoise);
  const s = Math.sqrt(1 + 1 / DARK_FRAMES) / signalToNoise;
  const closed = 1 - e;
  const closedVariance = closed ** 2 / 12;
  const step = s / 16;
  let square = 0;
  let total = 0;
  for (let fh = -6 * s; fh <= 1 + 6 * s; fh += step) {
    const low = -fh / s;
    const high = (1 - fh) / s;
    const lit = normalPdf(high) / s;
    const dark = normalPdf(low) / s;
    const inside = normalCdf(high) - normalCdf(low);
    // Truncated normal: mean and variance of f on [0, 1].
    const bend = inside > 1e-300 ? (normalPdf(low) - normalPdf(high)) / inside : 0;
    const bendVariance =
      inside > 1e-300 ? 1 + (low * normalPdf(low) - high * normalPdf(high)) / inside - bend ** 2 : 0;
    const pieces = [
      { prior: closed, filmed: closed / 2, density: lit, mean: -closed / 2, variance: closedVariance },
      { prior: closed, filmed: closed / 2, density: dark, mean: (1 + e) / 2, variance: closedVariance },
      {
        prior: e,
        filmed: e,
        density: inside,
        mean: e * (1 - (fh + s * bend)),
        variance: (e * s) ** 2 * bendVariance,
      },
    ];
    const weight = pieces.reduce((sum, p) => sum + p.prior * p.density, 0);
    if (weight === 0) continue;
    const best = pieces.reduce((sum, p) => sum + p.prior * p.density * p.mean, 0) / weight;
    for (const p of pieces) {
      square += p.filmed * p.density * (p.variance + (p.mean - best) ** 2);
      total += p.filmed * p.density;
    }
  }
  return Math.sqrt(square / total);
}

/**
 * Standard uncertainty of one latency to expect (two edges, and what the tone curve leaves once the LED has shown it), ms.
 * Common parts (readout unknown, LED delay) are not in it.
 */
export function expectedUncertainty(setting: ExpectedSetting): number {
  const { captureRateHz, exposureFraction, signalToNoise } = setting;
  if (!(captureRateHz > 0)) throw expected('captureRateHz', 'a positive number', captureRateHz);
  const edge = expectedEdgeError(exposureFraction, signalToNoise);
  return (1000 / captureRateHz) * Math.sqrt(2 * edge ** 2 + TONE_LEFT_T ** 2);
}
