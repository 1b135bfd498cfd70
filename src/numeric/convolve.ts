/** Convolution of two series: term by term where they are short, by the fast Fourier transform where they are long. */
import FFT from 'fft.js';

/** Products up to which term by term is quicker and, in its tails, exact. */
const DIRECT_UP_TO = 60_000;

/**
 * sum_j a[j] b[k - j] for k = 0 .. a.length + b.length - 2.
 * @param a at least one value
 * @param b at least one value, none of both negative: the rounding of the long form (1e-16 of the largest term) is cut at zero
 */
export function convolveWeights(a: Float64Array, b: Float64Array): Float64Array {
  return a.length * b.length <= DIRECT_UP_TO ? termByTerm(a, b) : byTransform(a, b);
}

function termByTerm(a: Float64Array, b: Float64Array): Float64Array {
  const result = new Float64Array(a.length + b.length - 1);
  for (let i = 0; i < a.length; i += 1) {
    const w = a[i]!;
    if (w === 0) continue;
    for (let j = 0; j < b.length; j += 1) result[i + j]! += w * b[j]!;
  }
  return result;
}

function byTransform(a: Float64Array, b: Float64Array): Float64Array {
  const length = a.length + b.length - 1;
  let size = 4;
  while (size < length) size *= 2;
  const fft = new FFT(size);
  const spectrumOf = (values: Float64Array): number[] => {
    const input = new Array<number>(size).fill(0);
    for (let i = 0; i < values.length; i += 1) input[i] = values[i]!;
    const out: number[] = fft.createComplexArray();
    fft.realTransform(out, input);
    fft.completeSpectrum(out);
    return out;
  };
  const p = spectrumOf(a);
  const q = spectrumOf(b);
  const product: number[] = fft.createComplexArray();
  for (let k = 0; k < size; k += 1) {
    product[2 * k] = p[2 * k]! * q[2 * k]! - p[2 * k + 1]! * q[2 * k + 1]!;
    product[2 * k + 1] = p[2 * k]! * q[2 * k + 1]! + p[2 * k + 1]! * q[2 * k]!;
  }
  const out: number[] = fft.createComplexArray();
  fft.inverseTransform(out, product);
  return Float64Array.from({ length }, (_, i) => Math.max(0, out[2 * i]!));
}
