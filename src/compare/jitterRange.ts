/** How far jitter carries a press from the fixed delay. */
import type { IntervalMs } from '../record/comparison.js';
import type { WaitModelFit } from '../stats/waitModel.js';

/**
 * From the fastest to the slowest press beside the fixed delay, ms, without wait and measurement error: the whole range
 * of a uniform jitter, 95 % of a Gaussian one, nothing to one refresh where refreshes are missed whole.
 */
export function jitterRange(
  fit: Pick<WaitModelFit, 'jitterShape' | 'shapeJitterMs' | 'periodMs'>,
): IntervalMs {
  const { jitterShape, shapeJitterMs: jitterMs, periodMs } = fit;
  switch (jitterShape) {
    case 'none':
      return [0, 0];
    case 'uniform':
      return [-Math.sqrt(3) * jitterMs, Math.sqrt(3) * jitterMs];
    case 'gaussian':
      return [-1.96 * jitterMs, 1.96 * jitterMs];
    case 'late-refresh':
      return [0, periodMs ?? 0];
  }
}
