/** Several comparisons at once. */
import { expected } from '../errors.js';

/**
 * p values adjusted so that the chance of any false claim stays at the level of one (S. Holm, Scand. J. Stat. 6 (1979)
 * 65-70). Valid whatever the dependence between the tests.
 * @param pValues each 0..1, any order
 * @returns adjusted p values in the same order, at most 1
 */
export function holm(pValues: readonly number[]): number[] {
  for (const p of pValues) if (!(p >= 0 && p <= 1)) throw expected('pValues', 'numbers from 0 to 1', p);
  const order = Array.from(pValues.keys()).sort((a, b) => pValues[a]! - pValues[b]!);
  const adjusted = new Array<number>(pValues.length);
  let largest = 0;
  order.forEach((index, rank) => {
    largest = Math.max(largest, Math.min(1, (pValues.length - rank) * pValues[index]!));
    adjusted[index] = largest;
  });
  return adjusted;
}
