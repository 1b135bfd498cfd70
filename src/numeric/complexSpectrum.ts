/** Power of a complex series over both signs of frequency. */
import FFT from 'fft.js';
import { expected } from '../errors.js';

/**
 * Squared magnitude of sum z_k exp(-2 pi i k m / size) for m = 0 .. size - 1; m above size / 2 stands for the negative
 * frequency m - size. The series is padded with zeros.
 * @param re, im parts of the series, as long as each other, at most `size`
 * @param size a power of two, at least 4
 */
export function complexPower(re: ArrayLike<number>, im: ArrayLike<number>, size: number): Float64Array {
  if (size < 4 || (size & (size - 1)) !== 0) throw expected('size', 'a power of two from 4', size);
  if (im.length !== re.length || re.length > size)
    throw expected('im', `as long as re, at most ${size}`, im.length);
  const fft = new FFT(size);
  const input = new Array<number>(2 * size).fill(0);
  for (let k = 0; k < re.length; k += 1) {
    input[2 * k] = re[k]!;
    input[2 * k + 1] = im[k]!;
  }
  const out: number[] = fft.createComplexArray();
  fft.transform(out, input);
  return Float64Array.from({ length: size }, (_, m) => out[2 * m]! ** 2 + out[2 * m + 1]! ** 2);
}
