/** The k-th smallest value, without sorting the others. */
import { quickselect } from 'simple-statistics';

/**
 * Floyd and Rivest's selection (CACM 18 (1975) 173, algorithm 489).
 * @param values reordered by the call.
 * @param k from 0, below the number of values.
 */
export function smallest(values: Float32Array, k: number): number {
  // The library's types say number[]; it only compares and swaps elements.
  quickselect(values as unknown as number[], k);
  return values[k]!;
}
