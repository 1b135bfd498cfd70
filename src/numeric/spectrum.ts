/** Periodic parts of a signal: power spectrum, one sinusoid by least squares, Lomb-Scargle for uneven times. */
import FFT from 'fft.js';
import { expected } from '../errors.js';

/** One-sided power spectrum. */
export interface PowerSpectrum {
  /** Distance of the bins, Hz when the rate is in Hz. Bin k is at k * binWidth. */
  readonly binWidth: number;
  /** Power per bin, 0 .. size/2; a sinusoid of amplitude A in the middle of a bin gives A^2 / 2 there. */
  readonly power: Float64Array;
}

/**
 * Power spectrum of evenly spaced values: mean removed, Hann window, zero-padded to a power of two.
 * @param values at least 4
 * @param rate samples per unit of time
 */
export function powerSpectrum(values: ArrayLike<number>, rate: number): PowerSpectrum {
  const n = values.length;
  if (n < 4) throw expected('values', 'at least 4 values', n);
  let mean = 0;
  for (let i = 0; i < n; i += 1) mean += values[i]! / n;
  let size = 4;
  while (size < n) size *= 2;
  // Typed, since lists of numbers of this length cost more than the transform.
  const input = new Float64Array(size);
  let windowSum = 0;
  for (let i = 0; i < n; i += 1) {
    const w = 0.5 - 0.5 * Math.cos((2 * Math.PI * (i + 0.5)) / n);
    windowSum += w;
    input[i] = w * (values[i]! - mean);
  }
  const out = new Float64Array(2 * size);
  transformOf(size).realTransform(out, input);
  const power = new Float64Array(size / 2 + 1);
  for (let k = 0; k <= size / 2; k += 1) {
    const magnitude2 = out[2 * k]! ** 2 + out[2 * k + 1]! ** 2;
    power[k] = ((k === 0 || k === size / 2 ? 1 : 2) * magnitude2) / (windowSum * windowSum);
  }
  return { binWidth: rate / size, power };
}

// Its tables take as long as a transform, and the spectra of one clip are of one size.
let transform: FFT | null = null;

function transformOf(size: number): FFT {
  if (transform?.size !== size) transform = new FFT(size);
  return transform;
}

/** offset + cosine * cos(2 pi f t) + sine * sin(2 pi f t). */
export interface SinusoidFit {
  readonly offset: number;
  readonly cosine: number;
  readonly sine: number;
  readonly amplitude: number;
  /** Phase p (rad) of amplitude * cos(2 pi f t - p). */
  readonly phaseRad: number;
  /** Standard uncertainty of the amplitude from the residuals. */
  readonly amplitudeUncertainty: number;
  /** Root of residual sum / (n - 3). */
  readonly residualSd: number;
  /** Share of the variance about the mean that the sinusoid explains, 0..1. */
  readonly explained: number;
}

/**
 * Least-squares sinusoid with offset at one known frequency; times need not be even.
 * @param frequency cycles per unit of `times`, positive
 */
export function fitSinusoid(
  times: ArrayLike<number>,
  values: ArrayLike<number>,
  frequency: number,
): SinusoidFit {
  const n = times.length;
  if (n < 4) throw expected('times', 'at least 4 times', n);
  if (values.length !== n) throw expected('values', `as long as times (${n})`, values.length);
  if (!(frequency > 0)) throw expected('frequency', 'a positive number', frequency);
  const omega = 2 * Math.PI * frequency;
  let mc = 0;
  let ms = 0;
  let my = 0;
  const c = new Float64Array(n);
  const s = new Float64Array(n);
  for (let i = 0; i < n; i += 1) {
    c[i] = Math.cos(omega * times[i]!);
    s[i] = Math.sin(omega * times[i]!);
    mc += c[i]! / n;
    ms += s[i]! / n;
    my += values[i]! / n;
  }
  let cc = 0;
  let ss = 0;
  let cs = 0;
  let yc = 0;
  let ys = 0;
  let yy = 0;
  for (let i = 0; i < n; i += 1) {
    const dc = c[i]! - mc;
    const ds = s[i]! - ms;
    const dy = values[i]! - my;
    cc += dc * dc;
    ss += ds * ds;
    cs += dc * ds;
    yc += dy * dc;
    ys += dy * ds;
    yy += dy * dy;
  }
  const determinant = cc * ss - cs * cs;
  // Below this the two columns are one (a frequency at half the sampling rate, or too short a piece).
  const solvable = determinant > 1e-12 * n * n;
  const cosine = solvable ? (yc * ss - ys * cs) / determinant : cc > 0 ? yc / cc : 0;
  const sine = solvable ? (ys * cc - yc * cs) / determinant : 0;
  const rss = Math.max(0, yy - cosine * yc - sine * ys);
  const residualSd = Math.sqrt(rss / Math.max(1, n - 3));
  return {
    offset: my - cosine * mc - sine * ms,
    cosine,
    sine,
    amplitude: Math.hypot(cosine, sine),
    phaseRad: Math.atan2(sine, cosine),
    amplitudeUncertainty: residualSd * Math.sqrt(2 / n),
    residualSd,
    explained: yy > 0 ? Math.min(1, 1 - rss / yy) : 0,
  };
}

/**
 * Lomb-Scargle periodogram with floating mean (Zechmeister & Kuerster 2009, equal weights): the share of variance,
 * 0..1, that a sinusoid of each frequency explains. Nearly even times keep their aliases at +-m * rate almost at
 * full strength (VanderPlas 2018): trust no peak above half the frame rate without other knowledge.
 * @param frequencies cycles per unit of `times`, all positive
 */
export function lombScargle(
  times: ArrayLike<number>,
  values: ArrayLike<number>,
  frequencies: ArrayLike<number>,
): Float64Array {
  return Float64Array.from(
    { length: frequencies.length },
    (_, k) => fitSinusoid(times, values, frequencies[k]!).explained,
  );
}
