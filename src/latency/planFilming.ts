/** The plan before filming: how sure a number of presses makes the fixed delay, and how many a wish takes. */
import { expected } from '../errors.js';
import { pressesForEquivalence } from '../stats/equivalencePower.js';
import { pressesForEqualDelays } from '../stats/planEquivalence.js';
import { predictWidth, pressesForWidth } from '../stats/planWidth.js';
import { expectedUncertainty } from './expectedUncertainty.js';

/** What is going to be filmed. */
export interface FilmingSetting {
  readonly captureRateHz: number;
  /** Shutter open time over capture period, 0 < e <= 1. */
  readonly exposureFraction: number;
  /** Of the display under test; each press waits up to one refresh. */
  readonly refreshHz: number;
  /** Presses of one chain. */
  readonly presses: number;
  /** Wanted width of the 95 % interval of the fixed delay, ms; null where nothing is wanted. */
  readonly wantMs: number | null;
  /** Within this two chains count as equal, ms. */
  readonly marginMs: number;
}

/** The plan. Widths are those of the whole interval, from its lower to its upper end. */
export interface FilmingPlan extends FilmingSetting {
  readonly format: 'lagreel-plan';
  readonly version: 1;
  /** Standard uncertainty of one latency, ms. */
  readonly uncertaintyMs: number;
  /** Mean width of the 95 % interval of the fixed delay, ms. */
  readonly widthMs: number;
  /** The same without any measurement error, ms. */
  readonly twoEdgeWidthMs: number;
  /** The same by the plain mean of the latencies, ms. */
  readonly meanWidthMs: number;
  /** Presses for the wanted width; null where nothing is wanted. */
  readonly pressesForWant: number | null;
  /** Presses of each chain, filmed one after the other, to show their fixed delays equal as `compare` does; null above 100 000. */
  readonly pressesFixedDelays: number | null;
  /** Presses of each chain to show by the means of two separate clips that they are equal; null above 100 000. */
  readonly pressesUnpaired: number | null;
  /** The same with both screens in one picture, press by press; null above 100 000. */
  readonly pressesPaired: number | null;
  /** Chance that an equivalence is shown where there is no difference. */
  readonly power: number;
}

const POWER = 0.8;

/** Plans; nothing random enters but a fixed seed. */
export function planFilming(setting: FilmingSetting): FilmingPlan {
  const { captureRateHz, exposureFraction, refreshHz, presses, wantMs, marginMs } = setting;
  if (!(refreshHz > 0)) throw expected('refreshHz', 'a positive number', refreshHz);
  const periodMs = 1000 / refreshHz;
  const uncertaintyMs = expectedUncertainty({ captureRateHz, exposureFraction });
  const width = predictWidth(presses, { periodMs, uncertaintyMs });
  // The wait differs from press to press, and between two clips it does not cancel; in one picture it does.
  const unpairedSd = Math.hypot(periodMs / Math.sqrt(12), uncertaintyMs);
  return {
    format: 'lagreel-plan',
    version: 1,
    ...setting,
    uncertaintyMs,
    widthMs: width.widthMs,
    twoEdgeWidthMs: width.twoEdgeWidthMs,
    meanWidthMs: width.meanWidthMs,
    pressesForWant: wantMs === null ? null : pressesForWidth(wantMs, { periodMs, uncertaintyMs }),
    pressesFixedDelays: pressesForEqualDelays(marginMs, POWER, { periodMs, uncertaintyMs }),
    pressesUnpaired: pressesForEquivalence(POWER, { sd: unpairedSd, margin: marginMs, paired: false }),
    pressesPaired: pressesForEquivalence(POWER, { sd: uncertaintyMs, margin: marginMs, paired: true }),
    power: POWER,
  };
}
