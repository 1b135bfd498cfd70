/** Planning: presses of each chain to show two fixed delays equal, by the wait model. */
import { expected } from '../errors.js';
import { normalQuantile } from '../numeric/normal.js';
import { type PlanSetting, predictWidth } from './planWidth.js';

/** Numbers of presses at which the width is simulated; between and beyond, it is a power of the number. */
const NODES = [30, 90] as const;
/** Simulated clips at each: the number of presses is then good to about 10 %. */
const REPEATS = 12;
/** Widths fall at least as n^-1/2 in the long run; a noisy pair must not plan for ever. */
const SLOWEST_FALL = -0.5;
const MOST_PRESSES = 100_000;

/**
 * Presses of each of two chains, filmed one after the other, for the wanted chance that the difference of their fixed
 * delays is shown to lie within the margin (two one-sided tests at 5 %) where there is none. Normal approximation:
 * margin = (z(0.95) + z(0.5 + power / 2)) sqrt(2) sd, with sd from the simulated width of the 95 % interval.
 * @param marginMs positive
 * @param power between 0 and 1
 * @returns null where what the presses share is too large, or above 100 000
 */
export function pressesForEqualDelays(
  marginMs: number,
  power: number,
  setting: PlanSetting,
  seed = 1,
): number | null {
  if (!(marginMs > 0)) throw expected('marginMs', 'a positive number', marginMs);
  if (!(power > 0 && power < 1)) throw expected('power', 'between 0 and 1', power);
  const sd = marginMs / (Math.SQRT2 * (normalQuantile(0.95) + normalQuantile(0.5 + power / 2)));
  const common = setting.commonUncertaintyMs ?? 0;
  if (sd <= common) return null;
  const wantedMs = 2 * 1.96 * Math.sqrt(sd ** 2 - common ** 2);
  const own = { ...setting, commonUncertaintyMs: 0 };
  const [few, many] = NODES.map((n) => predictWidth(n, own, seed, REPEATS).widthMs);
  const slope = Math.min(SLOWEST_FALL, Math.log(many! / few!) / Math.log(NODES[1] / NODES[0]));
  // Beyond the second number the fall has slowed down to that of a mean.
  const from =
    wantedMs < many!
      ? { n: NODES[1], widthMs: many!, slope: SLOWEST_FALL }
      : { n: NODES[0], widthMs: few!, slope };
  const presses = Math.ceil(from.n * (wantedMs / from.widthMs) ** (1 / from.slope));
  return presses > MOST_PRESSES ? null : Math.max(2, presses);
}
