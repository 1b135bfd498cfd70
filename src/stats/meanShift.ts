/** Means of two groups under every exchange of their members. */
import { mean } from './describe.js';
import { type Exchanged, randomSplits } from './exchange.js';

/** Difference of means, for `shiftByExchange`. The shift enters each split in proportion to the members of x in it. */
export function meansExchanged(
  x: readonly number[],
  y: readonly number[],
): (trial: number, shift: number) => Exchanged {
  const [m, n] = [x.length, y.length];
  const all = [...x, ...y];
  const centre = mean(all);
  const splits = randomSplits(m + n, m).map((members) => {
    let sum = 0;
    let ofX = 0;
    for (const i of members) {
      sum += all[i]! - centre;
      if (i < m) ofX += 1;
    }
    return { sum, ofX };
  });
  const scale = 1 / m + 1 / n;
  const observed = mean(x) - mean(y);
  return (_, shift) => ({
    observed: observed - shift,
    splits: splits.map(({ sum, ofX }) => sum * scale - shift * (ofX / m - (m - ofX) / n)),
  });
}
