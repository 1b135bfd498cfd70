/** Small symmetric systems, as normal equations are. */
import { expected } from '../errors.js';

/**
 * Inverse of a symmetric positive definite matrix by Cholesky.
 * @param matrix n * n, row by row; only the lower triangle is read
 * @returns n * n, or null where the matrix is not positive definite to rounding
 */
export function invertSymmetric(matrix: ArrayLike<number>, n: number): Float64Array | null {
  if (matrix.length !== n * n) throw expected('matrix', `${n} x ${n}`, matrix.length);
  // Scaled to a unit diagonal, so that unlike units do not look like a lack of rank.
  const scale = Float64Array.from({ length: n }, (_, i) => 1 / Math.sqrt(matrix[i * n + i]!));
  const lower = new Float64Array(n * n);
  for (let i = 0; i < n; i += 1) {
    for (let j = 0; j <= i; j += 1) {
      let sum = matrix[i * n + j]! * scale[i]! * scale[j]!;
      for (let k = 0; k < j; k += 1) sum -= lower[i * n + k]! * lower[j * n + k]!;
      if (i === j) {
        if (!(sum > 1e-12)) return null;
        lower[i * n + i] = Math.sqrt(sum);
      } else {
        lower[i * n + j] = sum / lower[j * n + j]!;
      }
    }
  }
  const inverse = new Float64Array(n * n);
  const column = new Float64Array(n);
  for (let c = 0; c < n; c += 1) {
    for (let i = 0; i < n; i += 1) {
      let sum = i === c ? 1 : 0;
      for (let k = 0; k < i; k += 1) sum -= lower[i * n + k]! * column[k]!;
      column[i] = sum / lower[i * n + i]!;
    }
    for (let i = n - 1; i >= 0; i -= 1) {
      let sum = column[i]!;
      for (let k = i + 1; k < n; k += 1) sum -= lower[k * n + i]! * column[k]!;
      column[i] = sum / lower[i * n + i]!;
    }
    for (let i = 0; i < n; i += 1) inverse[i * n + c] = column[i]! * scale[i]! * scale[c]!;
  }
  return inverse;
}

/** Product of an n * n matrix (row by row) with a vector of n. */
export function timesVector(matrix: ArrayLike<number>, vector: ArrayLike<number>): Float64Array {
  const n = vector.length;
  return Float64Array.from({ length: n }, (_, i) => {
    let sum = 0;
    for (let k = 0; k < n; k += 1) sum += matrix[i * n + k]! * vector[k]!;
    return sum;
  });
}
