/** The sentence on a comparison, in words a reviewer can quote. */
import type { ComparisonVerdict, IntervalMs, LagKind } from '../record/comparison.js';

/** What the sentence is made of. */
export interface ComparisonFacts {
  readonly name: string;
  readonly verdict: ComparisonVerdict;
  readonly lag: LagKind;
  readonly addedMs: number | null;
  readonly intervalMs: IntervalMs | null;
  readonly addedRangeMs: IntervalMs | null;
  readonly equivalent: boolean;
  /** True where the difference is shown not to be nil. */
  readonly different: boolean;
  readonly marginMs: number;
  readonly periodMs: number | null;
  readonly morePresses: number | null;
  /** What stands in the way where more presses do not help. */
  readonly floorOf: 'clips' | 'camera';
}

/** A number of ms for a sentence. */
export function msText(ms: number): string {
  return Math.abs(ms) >= 99.95 ? ms.toFixed(0) : ms.toFixed(1);
}

function rangeText([low, high]: IntervalMs): string {
  const text = (ms: number): string =>
    Math.max(Math.abs(low), Math.abs(high)) >= 10 ? ms.toFixed(0) : ms.toFixed(1);
  return `${text(low)} to ${text(high)}`;
}

function framesText(ms: number, periodMs: number | null): string {
  return periodMs === null ? '' : ` (${(ms / periodMs).toFixed(2)} display frames)`;
}

/** One sentence, without hedging beyond what the numbers say. */
export function comparisonSentence(facts: ComparisonFacts): string {
  const { name, verdict, addedMs, addedRangeMs, marginMs, periodMs } = facts;
  switch (verdict) {
    case 'no-added-lag':
      return `${name}: no added lag (within ${marginMs} ms).`;
    case 'adds-fixed':
      return `${name} adds ${msText(addedMs!)} ms${framesText(addedMs!, periodMs)}, fixed.`;
    case 'less-lag':
      return `${name} has ${msText(-addedMs!)} ms${framesText(-addedMs!, periodMs)} less lag, ${facts.lag === 'variable' ? 'variable' : 'fixed'}.`;
    case 'adds-variable':
      return variableSentence(name, addedRangeMs!, periodMs);
    case 'undecided':
      return undecidedSentence(facts);
  }
}

function variableSentence(name: string, [low, high]: IntervalMs, periodMs: number | null): string {
  const frames =
    periodMs === null
      ? ''
      : ` (${(low / periodMs).toFixed(1)} to ${(high / periodMs).toFixed(1)} display frames)`;
  // How far jitter reaches is known less well than where its middle lies: a fastest press that gains time is no claim.
  if (low <= 0) {
    const most = periodMs === null ? '' : ` (${(high / periodMs).toFixed(1)} display frames)`;
    return `${name} adds up to ${high >= 10 ? high.toFixed(0) : high.toFixed(1)} ms${most}, variable.`;
  }
  return `${name} adds ${rangeText([low, high])} ms${frames}, variable.`;
}

function undecidedSentence(facts: ComparisonFacts): string {
  const { name, addedMs, intervalMs, morePresses, marginMs, different, equivalent } = facts;
  const film =
    morePresses !== null
      ? `film about ${morePresses} more presses`
      : facts.floorOf === 'clips'
        ? 'more presses would not help, film more clips of each'
        : 'more presses would not help, film LED and screen at one height or calibrate the readout';
  if (addedMs === null || intervalMs === null) return `${name}: cannot say; ${film}.`;
  const interval = `${msText(intervalMs[0])} to ${msText(intervalMs[1])} ms`;
  if (equivalent) {
    return `${name}: no added fixed delay (within ${marginMs} ms); whether its lag varies we cannot say, ${film}.`;
  }
  if (different) {
    const size =
      addedMs > 0 ? `adds about ${msText(addedMs)} ms` : `has about ${msText(-addedMs)} ms less lag`;
    return `${name} ${size} (${interval}); whether that is fixed we cannot say, ${film}.`;
  }
  return `${name}: cannot say; ${film} (the added lag lies between ${msText(intervalMs[0])} and ${msText(intervalMs[1])} ms).`;
}
