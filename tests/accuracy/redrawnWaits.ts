/**
 * How well the fixed delay comes out at many presses, over more sets than there are clips: a clip's own measured errors and
 * claimed uncertainties stand, and only the waits of its presses are drawn anew, from the definition (uniform over one
 * refresh). A dozen clips of 50 presses alone leave the ratio of two errors unknown to a fifth.
 */
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { fitWaitModel } from '../../src/stats/waitModel.js';
import type { ClipError } from './heldOutScenes.js';

/** Errors of one redrawn set, ms. */
export interface DelayErrors {
  /** Of the wait model's fixed delay. */
  readonly modelMs: number;
  /** Of the mean latency less half a refresh. */
  readonly meanMs: number;
  readonly covered: boolean;
}

/** Redraws the waits of a clip's presses so many times. */
export function redrawWaits(clip: ClipError, times: number, seed: number): DelayErrors[] {
  const random = seededRandom(seed);
  const summary = clip.record.summary.screen;
  if (!summary?.displayFrameMs) return [];
  const { displayFrameMs: periodMs, commonUncertaintyMs } = summary;
  const delayMs = clip.trueFixedDelayMs;
  return Array.from({ length: times }, () => {
    const latencies = clip.presses.map(({ errorMs, uncertaintyMs }) => ({
      valueMs: delayMs + random.uniform(0, periodMs) + errorMs,
      uncertaintyMs: Math.sqrt(Math.max(0, uncertaintyMs ** 2 - commonUncertaintyMs ** 2)),
    }));
    const fit = fitWaitModel(latencies, { periodMs, commonUncertaintyMs });
    const mean = latencies.reduce((sum, l) => sum + l.valueMs / latencies.length, 0);
    const [low, high] = fit.intervalMs;
    return {
      modelMs: fit.fixedDelayMs - delayMs,
      meanMs: mean - periodMs / 2 - delayMs,
      covered: low <= delayMs && delayMs <= high,
    };
  });
}
