/** The plain sentence on one chain. */
import type { WaitModelFit } from '../stats/waitModel.js';

const ms = (value: number): string => (Math.abs(value) >= 99.95 ? value.toFixed(0) : value.toFixed(1));

/** Says what the wait model found, in words a reviewer can quote. */
export function verdictSentence(fit: WaitModelFit | null, latenciesMs: readonly number[]): string {
  if (latenciesMs.length === 0) return 'No latency could be measured.';
  const lowest = Math.min(...latenciesMs);
  const highest = Math.max(...latenciesMs);
  if (!fit || latenciesMs.length < 3) {
    return `${latenciesMs.length === 1 ? 'One press' : `${latenciesMs.length} presses`} between ${ms(lowest)} and ${ms(highest)} ms: too few to say whether the lag is fixed.`;
  }
  const [low, high] = fit.intervalMs;
  const wait = fit.periodMs;
  const delay = `${ms(fit.fixedDelayMs)} ms (${ms(low)} to ${ms(high)})`;
  if (fit.lag === 'fixed') {
    if (fit.model === 'no-wait' || wait === null) return `Fixed lag of ${delay}, the same for every press.`;
    return `Fixed lag of ${delay}, plus 0 to ${ms(wait)} ms of waiting for the next refresh.`;
  }
  if (fit.lag === 'variable') {
    return `Variable lag: ${ms(lowest)} to ${ms(highest)} ms from press to press; ${ms(fit.jitterMs)} ms (sd) of that spread is the chain's own, not the wait for a refresh.`;
  }
  return `About ${delay} of lag${wait === null ? '' : ` plus the wait for a refresh`}; ${latenciesMs.length} presses do not show whether it is fixed.`;
}
