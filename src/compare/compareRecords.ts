/** Records in, comparison out: the only file of this room that knows the order of the steps. */
import { AnalysisError, expected } from '../errors.js';
import type {
  BetweenClips,
  BudgetStage,
  ComparedClip,
  ComparedGroup,
  Comparison,
  Labels,
} from '../record/comparison.js';
import { describe, sampleSd } from '../stats/describe.js';
import { densityQuantiles } from '../stats/gridDensity.js';
import { quantile } from '../stats/quantile.js';
import { centreOf } from '../stats/randomEffects.js';
import { version } from '../version.js';
import { budgetOf } from './budgetOf.js';
import { checkZero } from './checkZero.js';
import { type Allowance, allowed, heightNote, obstaclesBetween } from './comparability.js';
import { type ComparisonTask, compareGroups } from './compareGroups.js';
import { estimateGroups, type GroupEstimate, type GroupEstimates, LEAST_PRESSES } from './groupEstimates.js';
import {
  type CompareInput,
  clipLabels,
  isZeroCheck,
  type MeasuredRegion,
  measuredRegions,
  uncancelledMs,
} from './measuredRegion.js';
import { groupRegions, matchBaselines } from './regionGroups.js';
import { roundComparison } from './roundComparison.js';

/** What is asked. */
export interface CompareRequest {
  /** Label keys that make the groups, for example `['chain', 'mode']`. */
  readonly by: readonly string[];
  /** Labels of the baseline, keys among `by`; null lists the groups without comparing. */
  readonly baseline: Labels | null;
  /** Largest difference that counts as none, ms; default 1. */
  readonly marginMs?: number;
  readonly stages?: readonly BudgetStage[];
  /** What may differ although it does not compare. */
  readonly allow?: readonly Allowance[];
}

/**
 * Compares records by their labels. Pure: the same records and request give the same document.
 * @throws UsageError where labels, baseline or what was filmed do not allow it; AnalysisError `nothing-measurable` where no
 * record holds a measured press
 */
export function compareRecords(inputs: readonly CompareInput[], request: CompareRequest): Comparison {
  const { by, baseline, marginMs = 1, stages = [], allow = [] } = request;
  if (!(marginMs > 0 && Number.isFinite(marginMs)))
    throw expected('margin', 'a positive number of ms', marginMs);
  const warnings: string[] = [];
  const regions = inputs.map((input, clip) => measuredRegions(input, clip));
  const uses = inputs.map((input, i) => useOf(input, regions[i]!, warnings));
  const usable = regions.flatMap((list, i) =>
    uses[i] === 'group' ? list.filter((r) => r.latencies.length > 0 && !isZeroCheck(r.labels)) : [],
  );
  const zero = regions.flatMap((list, i) =>
    uses[i] === 'left-out' ? [] : list.filter((r) => isZeroCheck(r.labels)),
  );
  if (usable.length === 0 && zero.length === 0) {
    throw new AnalysisError(
      'nothing-measurable',
      'none of the records holds a measured press: measure clips that are fit first',
    );
  }
  const groups = usable.length === 0 ? [] : groupRegions(usable, by);
  const matching =
    baseline === null || groups.length === 0
      ? { pairs: [], isBaseline: groups.map(() => false), warnings: [] }
      : matchBaselines(groups, by, baseline);
  warnings.push(...matching.warnings);
  const tasks = matching.pairs.map((pair): ComparisonTask => {
    const [group, against] = [groups[pair.group]!, groups[pair.baseline]!];
    const sideBySide = group.members.every((m) => against.members.some((b) => b.clip === m.clip));
    const note = sideBySide ? null : heightNote(group, against);
    if (note) warnings.push(note);
    return { ...pair, allowed: allowed(obstaclesBetween(group, against, sideBySide), allow) };
  });
  const estimates = estimateGroups(groups);
  const comparisons = compareGroups(estimates, tasks, marginMs);
  warnings.push(...groupWarnings(estimates, matching.isBaseline));
  return roundComparison({
    format: 'lagreel-comparison',
    version: 1,
    tool: { name: 'lagreel', version },
    marginMs,
    by,
    baseline,
    groups: estimates.groups.map((g, i) => groupOf(g, estimates, matching.isBaseline[i]!)),
    comparisons,
    betweenClips: betweenClipsOf(estimates),
    zeroCheck: checkZero(zero),
    budget: budgetOf(estimates, stages),
    clips: inputs.map((input, i) => clipOf(input, regions[i]!, uses[i]!, estimates)),
    warnings,
  });
}

function useOf(
  input: CompareInput,
  regions: readonly MeasuredRegion[],
  warnings: string[],
): ComparedClip['use'] {
  const { clip, fitness } = input.record;
  if (fitness.class === 'unfit') {
    const why = fitness.reasons.filter((r) => r.severity === 'unfit').map((r) => r.text);
    warnings.push(`${clip.file} is left out: it is unfit. ${why.join(' ')}`.trim());
    return 'left-out';
  }
  if (regions.every((r) => r.latencies.length === 0)) {
    warnings.push(`${clip.file} is left out: no press in it was measured.`);
    return isZeroCheck(clipLabels(input)) ? 'zero-check' : 'left-out';
  }
  return regions.every((r) => isZeroCheck(r.labels)) ? 'zero-check' : 'group';
}

function clipOf(
  { record, recordPath, reportPath, ...rest }: CompareInput,
  regions: readonly MeasuredRegion[],
  use: ComparedClip['use'],
  { groups }: GroupEstimates,
): ComparedClip {
  return {
    file: record.clip.file,
    sha256: record.clip.sha256,
    record: recordPath,
    report: reportPath,
    labels: clipLabels({ record, recordPath, reportPath, ...rest }),
    fitness: record.fitness.class,
    use,
    regions: regions.map((region) => {
      const fit = groups.flatMap((g) => g.clips).find((c) => c.region === region)?.fit ?? null;
      const values = region.latencies.map((l) => l.ms);
      return {
        name: region.name,
        labels: region.labels,
        n: values.length,
        fixedDelayMs: fit?.fixedDelayMs ?? null,
        intervalMs: fit?.intervalMs ?? null,
        medianMs: values.length > 0 ? quantile(values, 0.5) : null,
      };
    }),
  };
}

function groupOf(estimate: GroupEstimate, { delays }: GroupEstimates, isBaseline: boolean): ComparedGroup {
  const { group, clips, latenciesMs, delayIndex, spread, periodMs, sharedErrorsMs } = estimate;
  const d = describe(latenciesMs);
  const fixed =
    delays !== null && delayIndex !== null
      ? densityQuantiles(centreOf(delays, delayIndex, uncancelledMs(sharedErrorsMs)), [0.025, 0.5, 0.975])
      : null;
  const fixedDelays = clips.flatMap((c) => (c.fit ? [c.fit.fixedDelayMs] : []));
  return {
    labels: group.labels,
    name: group.name,
    region: group.region,
    isBaseline,
    clips: clips.length,
    n: d.n,
    fixedDelayMs: fixed?.[1] ?? null,
    intervalMs: fixed && [fixed[0]!, fixed[2]!],
    medianMs: d.median,
    minimumMs: d.minimum,
    maximumMs: d.maximum,
    meanMs: d.mean,
    quantilesMs: {
      p05: quantile(latenciesMs, 0.05),
      p25: quantile(latenciesMs, 0.25),
      p75: quantile(latenciesMs, 0.75),
      p95: quantile(latenciesMs, 0.95),
    },
    jitterMs: spread?.jitterMs ?? null,
    jitterIntervalMs: spread?.jitterIntervalMs ?? null,
    lag: spread?.lag ?? 'undecided',
    periodMs,
    fixedDelayDisplayFrames: fixed && periodMs !== null ? fixed[1]! / periodMs : null,
    latencies: group.members.flatMap((m) => m.latencies.map((l) => ({ clip: m.clip, ms: l.ms }))),
    betweenClipSdMs: fixedDelays.length > 1 ? sampleSd(fixedDelays) : null,
  };
}

function betweenClipsOf({ delays, groups }: GroupEstimates): BetweenClips {
  const spread = delays?.spread ?? null;
  if (!delays || !spread) {
    const once = groups.some((g) => g.clips.length > 0);
    return {
      degreesOfFreedom: 0,
      sdMs: null,
      intervalMs: null,
      sentence: once
        ? 'The spread between clips is not measured: no group has two clips. The intervals hold for these clips, not for setting up and filming again.'
        : 'The spread between clips is not measured.',
    };
  }
  const { sd, interval } = spread;
  return {
    degreesOfFreedom: delays.degreesOfFreedom,
    sdMs: sd,
    intervalMs: interval,
    sentence: `Clips of one group differ by ${sd.toFixed(2)} ms (sd; 95 % interval ${interval[0].toFixed(2)} to ${interval[1].toFixed(2)} ms, ${delays.degreesOfFreedom} degree${delays.degreesOfFreedom === 1 ? '' : 's'} of freedom); the intervals hold for filming again.`,
  };
}

function groupWarnings({ groups }: GroupEstimates, isBaseline: readonly boolean[]): string[] {
  return groups.flatMap(({ group, clips, spread }, i) => {
    const few = clips.filter((c) => c.fit === null).map((c) => c.region.file);
    return [
      ...(few.length > 0
        ? [
            `${few.join(', ')} (${group.name}): fewer than ${LEAST_PRESSES} measured presses, too few for a fixed delay.`,
          ]
        : []),
      ...(isBaseline[i] && spread?.lag === 'variable'
        ? [
            `The baseline ${group.name} is variable itself: what a chain adds to a press differs from press to press.`,
          ]
        : []),
    ];
  });
}
