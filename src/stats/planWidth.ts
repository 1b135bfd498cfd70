/** Planning: the interval to expect from a number of presses, and the presses for a wanted interval. */
import { expected } from '../errors.js';
import { seededRandom } from '../numeric/seededRandom.js';
import { fitWaitModel } from './waitModel.js';

/** What is known before filming. */
export interface PlanSetting {
  /** Period of the wait, ms. */
  readonly periodMs: number;
  /** Standard uncertainty of one latency, ms. */
  readonly uncertaintyMs: number;
  /** Standard uncertainty that all presses share, ms, default 0. */
  readonly commonUncertaintyMs?: number;
}

/** The width to expect. */
export interface PlannedWidth {
  readonly presses: number;
  /** Mean width of the 95 % interval of the fixed delay, ms. */
  readonly widthMs: number;
  /** Two-edge limit without measurement error, 2 R / (n + 1), ms. */
  readonly twoEdgeWidthMs: number;
  /** Mean 95 % width of the plain mean of the latencies, for comparison: 2 * 1.96 R / sqrt(12 n), ms. */
  readonly meanWidthMs: number;
}

/** Simulated clips per number of presses: the mean width is then good to about 5 %. */
const REPEATS = 32;
/** Where widths are simulated for the search; beyond the last the trend of the last two is continued. */
const NODES = [5, 10, 20, 40, 80, 160] as const;
const MOST_PRESSES = 100_000;

/**
 * Width of the 95 % interval of the fixed delay to expect from a fixed-lag chain, by fitting the wait model to
 * simulated clips.
 * @param presses 1 .. 1000
 * @param repeats simulated clips
 */
export function predictWidth(
  presses: number,
  setting: PlanSetting,
  seed = 1,
  repeats = REPEATS,
): PlannedWidth {
  if (!(Number.isInteger(presses) && presses >= 1 && presses <= 1000)) {
    throw expected('presses', 'a whole number from 1 to 1000', presses);
  }
  const { periodMs, uncertaintyMs, commonUncertaintyMs = 0 } = setting;
  if (!(periodMs > 0)) throw expected('periodMs', 'a positive number', periodMs);
  if (!(uncertaintyMs >= 0)) throw expected('uncertaintyMs', 'at least 0', uncertaintyMs);
  const random = seededRandom(seed);
  let widthMs = 0;
  for (let k = 0; k < repeats; k += 1) {
    const latencies = Array.from({ length: presses }, () => ({
      valueMs: random.uniform(0, periodMs) + random.normal(0, uncertaintyMs),
      uncertaintyMs,
    }));
    const [low, high] = fitWaitModel(latencies, { periodMs, commonUncertaintyMs }).intervalMs;
    widthMs += (high - low) / repeats;
  }
  return {
    presses,
    widthMs,
    twoEdgeWidthMs: (2 * periodMs) / (presses + 1),
    meanWidthMs: (2 * 1.96 * periodMs) / Math.sqrt(12 * presses),
  };
}

/**
 * Presses to film for a 95 % interval of the fixed delay no wider than `widthMs`, log-linear between simulated numbers.
 * @returns null where the common uncertainty alone is wider, however many presses
 */
export function pressesForWidth(widthMs: number, setting: PlanSetting, seed = 1): number | null {
  if (!(widthMs > 0)) throw expected('widthMs', 'a positive number', widthMs);
  const common = 2 * 1.96 * (setting.commonUncertaintyMs ?? 0);
  if (widthMs <= common) return null;
  // The part that shrinks is planned alone; what is common joins it in quadrature.
  const wanted = Math.sqrt(widthMs ** 2 - common ** 2);
  const own = { ...setting, commonUncertaintyMs: 0 };
  let before: PlannedWidth | null = null;
  let beforeThat: PlannedWidth | null = null;
  for (const presses of NODES) {
    const here = predictWidth(presses, own, seed);
    if (here.widthMs <= wanted) return before === null ? presses : between(before, here, wanted);
    beforeThat = before;
    before = here;
  }
  return Math.min(MOST_PRESSES, between(beforeThat!, before!, wanted));
}

function between(a: PlannedWidth, b: PlannedWidth, widthMs: number): number {
  const slope = Math.log(b.widthMs / a.widthMs) / Math.log(b.presses / a.presses);
  // Widths fall at least as n^-1/2 in the long run; a noisy pair must not plan for ever.
  const exponent = Math.min(-0.4, slope);
  return Math.ceil(a.presses * (widthMs / a.widthMs) ** (1 / exponent));
}
