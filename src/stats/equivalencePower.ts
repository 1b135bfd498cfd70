/** How likely an equivalence test is to succeed when the lag really is nil. */
import { expected } from '../errors.js';
import { chiSquareQuantile } from '../numeric/chiSquare.js';
import { normalCdf } from '../numeric/normal.js';
import { studentTQuantile } from '../numeric/studentT.js';

/** What the test will see. */
export interface EquivalenceSetting {
  /** Standard deviation of one value (unpaired) or of one paired difference. */
  readonly sd: number;
  /** Margin of equivalence, same units. */
  readonly margin: number;
  /** true: n pairs; false: n values in each of two groups. */
  readonly paired: boolean;
  /** True difference, default 0. */
  readonly difference?: number;
  readonly alpha?: number;
}

/** Slices of equal probability over the distribution of the sample's own spread. */
const SLICES = 200;

/**
 * Power of the two one-sided t tests with n presses (each group): normal probability of the mean, averaged over the
 * chi-square distribution of the estimated spread (Phillips, J. Pharmacokin. Biopharm. 18 (1990) 137-144).
 */
export function equivalencePower(n: number, setting: EquivalenceSetting): number {
  const { sd, margin, paired, difference = 0, alpha = 0.05 } = setting;
  if (!(Number.isInteger(n) && n >= 2)) throw expected('n', 'a whole number of at least 2', n);
  if (!(sd > 0)) throw expected('sd', 'a positive number', sd);
  if (!(margin > 0)) throw expected('margin', 'a positive number', margin);
  const freedom = paired ? n - 1 : 2 * n - 2;
  const standardError = sd * Math.sqrt((paired ? 1 : 2) / n);
  const t = studentTQuantile(1 - alpha, freedom);
  let power = 0;
  for (let k = 0; k < SLICES; k += 1) {
    const spread = Math.sqrt(chiSquareQuantile((k + 0.5) / SLICES, freedom) / freedom);
    const reach = margin - t * spread * standardError;
    if (reach <= 0) continue;
    power +=
      normalCdf((reach - difference) / standardError) - normalCdf((-reach - difference) / standardError);
  }
  return power / SLICES;
}

/** Fewest presses (pairs, or per group) for the wanted power; null above 100 000. */
export function pressesForEquivalence(power: number, setting: EquivalenceSetting): number | null {
  if (!(power > 0 && power < 1)) throw expected('power', 'between 0 and 1', power);
  let high = 2;
  while (equivalencePower(high, setting) < power) {
    high *= 2;
    if (high > 100_000) return null;
  }
  let low = Math.floor(high / 2);
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (middle >= 2 && equivalencePower(middle, setting) >= power) high = middle;
    else low = middle;
  }
  return high;
}
