/** The zero check: a second LED on the same switch must answer at once, within what the measurement claims. */
import { studentTQuantile } from '../numeric/studentT.js';
import type { ZeroCheck } from '../record/comparison.js';
import { mean, sampleVariance } from '../stats/describe.js';
import { type MeasuredRegion, uncancelledMs } from './measuredRegion.js';
import { msText } from './wording.js';

/** Presses below which a check says nothing. */
const LEAST_PRESSES = 3;

/**
 * Judges the regions of the clips that are labelled as zero check. The mean must be zero within its 95 % interval, made
 * of scatter (or the claimed uncertainties, where those are larger) and of all that the presses share.
 */
export function checkZero(regions: readonly MeasuredRegion[]): ZeroCheck {
  const clips = regions
    .filter((r) => r.latencies.length >= LEAST_PRESSES)
    .map((region) => {
      const values = region.latencies.map((l) => l.ms);
      const n = values.length;
      const claimed = mean(region.latencies.map((l) => l.ownUncertaintyMs ** 2));
      const standardError = Math.sqrt(Math.max(sampleVariance(values), claimed) / n);
      const common = Math.hypot(region.clipUncertaintyMs, uncancelledMs(region.sharedErrorsMs));
      const half = Math.hypot(studentTQuantile(0.975, n - 1) * standardError, 1.96 * common);
      const meanMs = mean(values);
      return {
        file: region.file,
        record: region.recordPath,
        region: region.name,
        n,
        meanMs,
        intervalMs: [meanMs - half, meanMs + half] as const,
        passed: Math.abs(meanMs) <= half,
      };
    });
  if (clips.length === 0) {
    const sentence =
      regions.length === 0
        ? 'No zero check: no clip of this session shows that nothing takes no time (a second LED on the same switch as the screen region, label check=zero).'
        : `No zero check: ${regions.map((r) => r.file).join(', ')} ${regions.length === 1 ? 'has' : 'have'} fewer than ${LEAST_PRESSES} measured presses (is the window open below zero, --window -50:200?).`;
    return { status: 'missing', clips, sentence };
  }
  const failed = clips.filter((c) => !c.passed);
  const shown = (failed.length > 0 ? failed : clips)
    .map(
      ({ file, meanMs, intervalMs: [low, high], n }) =>
        `${file}: ${signed(meanMs)} ms (${signed(low)} to ${signed(high)} ms, ${n} presses)`,
    )
    .join('; ');
  return failed.length === 0
    ? { status: 'passed', clips, sentence: `Zero check passed: ${shown}.` }
    : {
        status: 'failed',
        clips,
        sentence: `Zero check failed: ${shown}; it should be zero. Every latency of the session may be off by as much.`,
      };
}

/** Two decimals: a zero check is about tenths of a millisecond. */
function signed(ms: number): string {
  return Math.abs(ms) < 100 ? ms.toFixed(2) : msText(ms);
}
