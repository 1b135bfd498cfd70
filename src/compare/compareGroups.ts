/** Every group against its baseline: differences, tests, verdict and sentence. */
import { normalCdf, normalQuantile } from '../numeric/normal.js';
import type {
  ComparedEquivalence,
  ComparisonVerdict,
  DifferenceMs,
  GroupComparison,
  IntervalMs,
  LagKind,
  PairedComparison,
} from '../record/comparison.js';
import { mean } from '../stats/describe.js';
import { densityMoments, type GridDensity } from '../stats/gridDensity.js';
import { hodgesLehmann } from '../stats/hodgesLehmann.js';
import { holm } from '../stats/multipleComparisons.js';
import { type DifferenceFound, differenceFound } from '../stats/randomEffects.js';
import { rankTest } from '../stats/rankTest.js';
import { delayDifference, meanDifference } from './groupDifference.js';
import type { GroupEstimate, GroupEstimates } from './groupEstimates.js';
import { jitterRange } from './jitterRange.js';
import { uncancelledMs } from './measuredRegion.js';
import { moreForDifference, moreForSpread } from './morePresses.js';
import { type PairedDifference, pairRegions } from './pairRegions.js';
import type { Matched } from './regionGroups.js';
import { comparisonSentence } from './wording.js';

/** Size of every test. */
const ALPHA = 0.05;

/** What is compared with what. */
export interface ComparisonTask extends Matched {
  /** What was allowed although it does not compare, in words. */
  readonly allowed: readonly string[];
}

/** One comparison before the correction for several. */
interface Draft {
  readonly task: ComparisonTask;
  readonly group: GroupEstimate;
  readonly baseline: GroupEstimate;
  readonly density: GridDensity | null;
  readonly found: DifferenceFound | null;
  readonly paired: PairedDifference | null;
  readonly waitModel: GroupComparison['waitModel'];
  readonly hodgesLehmann: DifferenceMs;
  readonly differenceOfMeans: DifferenceMs | null;
  readonly rank: { readonly relativeEffect: number; readonly p: number };
  /** Part of the standard uncertainty that presses do not shrink, ms. */
  readonly floorMs: number;
  /** Which of it is larger: setting up anew, or what the camera does to both. */
  readonly floorOf: 'clips' | 'camera';
  readonly lag: LagKind;
}

/** Compares; p values are corrected by Holm's method over all of `tasks`, each kind of claim for itself. */
export function compareGroups(
  estimates: GroupEstimates,
  tasks: readonly ComparisonTask[],
  marginMs: number,
): GroupComparison[] {
  const drafts = tasks.map((task) => draftOf(estimates, task, marginMs));
  const tested = drafts.filter((d) => d.found !== null);
  const adjustedOf = (pick: (d: Draft) => number): Map<Draft, number> => {
    const adjusted = holm(tested.map(pick));
    return new Map(tested.map((d, i) => [d, adjusted[i]!]));
  };
  const pDifferent = adjustedOf((d) => d.found!.p);
  const pEquivalent = adjustedOf((d) => d.found!.pEquivalence);
  const pRank = holm(drafts.map((d) => d.rank.p));
  return drafts.map((draft, i) =>
    finish(draft, marginMs, {
      claims: tested.length,
      different: pDifferent.get(draft) ?? null,
      equivalent: pEquivalent.get(draft) ?? null,
      rank: pRank[i]!,
    }),
  );
}

function draftOf(estimates: GroupEstimates, task: ComparisonTask, marginMs: number): Draft {
  const group = estimates.groups[task.group]!;
  const baseline = estimates.groups[task.baseline]!;
  const paired = pairRegions(group.group, baseline.group);
  const sharedMs = uncancelledMs(group.sharedErrorsMs, baseline.sharedErrorsMs);
  const betweenMs = estimates.delays?.spread?.sd ?? 0;
  const clipsMs = Math.hypot(setUpMs(group, betweenMs), setUpMs(baseline, betweenMs));
  const floorMs = Math.hypot(sharedMs, clipsMs);
  const both = group.delayIndex !== null && baseline.delayIndex !== null;
  const delay = both ? delayDifference(estimates, group, baseline, sharedMs) : null;
  const means = both ? meanDifference(estimates, group, baseline, sharedMs) : null;
  const density = paired?.density ?? delay;
  const ranks = rankMethods(group.latenciesMs, baseline.latenciesMs, floorMs);
  return {
    task,
    group,
    baseline,
    density,
    found: density && differenceFound(density, marginMs),
    paired,
    waitModel: delay && {
      ...differenceMs(differenceFound(delay, marginMs)),
      uncertaintyMs: densityMoments(delay).sd,
      systematicMs: floorMs,
    },
    hodgesLehmann: ranks.shift,
    differenceOfMeans: means && differenceMs(differenceFound(means, marginMs)),
    rank: ranks.test,
    floorMs,
    floorOf: clipsMs >= sharedMs ? 'clips' : 'camera',
    lag: paired?.lag ?? addedLag(group, baseline),
  };
}

/** Standard uncertainty of a group's delay from setting up anew, ms: falls with the clips, not with the presses. */
function setUpMs({ clips }: GroupEstimate, betweenMs: number): number {
  const own = clips.reduce((sum, c) => sum + c.region.clipUncertaintyMs ** 2, 0);
  return Math.sqrt(betweenMs ** 2 / clips.length + own / clips.length ** 2);
}

function differenceMs(found: DifferenceFound): DifferenceMs {
  return { differenceMs: found.difference, intervalMs: found.interval };
}

/**
 * Hodges-Lehmann shift and rank test of all presses. What the presses of a clip share (and ranks do not know of)
 * widens the interval and weakens the test as it would those of a normal estimate.
 */
function rankMethods(x: readonly number[], y: readonly number[], floorMs: number) {
  const { shift, interval } = hodgesLehmann(x, y);
  const test = rankTest(x, y);
  const errorMs = (interval[1] - interval[0]) / (2 * 1.96);
  if (!(floorMs > 0 && errorMs > 0)) {
    return { shift: { differenceMs: shift, intervalMs: interval }, test };
  }
  const wider = Math.hypot(1, floorMs / errorMs);
  const z = normalQuantile(Math.max(test.p, 1e-300) / 2) / wider;
  const intervalMs: IntervalMs = [
    shift - wider * (shift - interval[0]),
    shift + wider * (interval[1] - shift),
  ];
  return { shift: { differenceMs: shift, intervalMs }, test: { ...test, p: Math.min(1, 2 * normalCdf(z)) } };
}

/** Whether what is added varies: the group's own verdict, unless the baseline varies as well. */
function addedLag({ spread: own }: GroupEstimate, { spread: base }: GroupEstimate): LagKind {
  if (own === null || base === null) return 'undecided';
  if (base.lag !== 'variable' || own.lag !== 'variable') return own.lag;
  const [low, high] = own.jitterIntervalMs;
  const [baseLow, baseHigh] = base.jitterIntervalMs;
  if (low > baseHigh) return 'variable';
  const most = Math.sqrt(Math.max(0, high ** 2 - baseLow ** 2));
  return most < own.jitterToleranceMs ? 'fixed' : 'undecided';
}

interface AdjustedP {
  /** Comparisons that were corrected for together. */
  readonly claims: number;
  readonly different: number | null;
  readonly equivalent: number | null;
  readonly rank: number;
}

function finish(draft: Draft, marginMs: number, adjusted: AdjustedP): GroupComparison {
  const { task, group, baseline, found, paired, lag } = draft;
  const periodMs = group.periodMs ?? baseline.periodMs;
  const equivalence: ComparedEquivalence | null = found && {
    marginMs,
    interval90Ms: found.interval90,
    p: found.pEquivalence,
    pAdjusted: adjusted.equivalent!,
    equivalent: adjusted.equivalent! < ALPHA,
  };
  const different = adjusted.different !== null && adjusted.different < ALPHA;
  const shown = equivalence?.equivalent ?? false;
  const addedRangeMs = lag === 'variable' && found ? rangeOf(draft, found) : null;
  const verdict = verdictOf(found, lag, shown, different, addedRangeMs);
  const morePresses =
    verdict === 'undecided' ? moreFor(draft, marginMs, shown || different, adjusted.claims) : null;
  const { name, labels, region } = group.group;
  return {
    labels,
    name,
    region,
    baseline: baseline.group.labels,
    baselineRegion: baseline.group.region,
    method: paired ? 'paired' : found ? 'wait-model' : 'none',
    addedMs: found?.difference ?? null,
    intervalMs: found?.interval ?? null,
    addedDisplayFrames: found && periodMs !== null ? found.difference / periodMs : null,
    intervalDisplayFrames:
      found && periodMs !== null ? [found.interval[0] / periodMs, found.interval[1] / periodMs] : null,
    addedRangeMs,
    equivalent: verdict === 'no-added-lag',
    equivalence,
    lag,
    verdict,
    sentence: comparisonSentence({
      name,
      verdict,
      lag,
      addedMs: found?.difference ?? null,
      intervalMs: found?.interval ?? null,
      addedRangeMs,
      equivalent: shown,
      different,
      marginMs,
      periodMs,
      morePresses,
      floorOf: draft.floorOf,
    }),
    morePresses,
    p: found?.p ?? null,
    pAdjusted: adjusted.different,
    waitModel: draft.waitModel,
    hodgesLehmann: draft.hodgesLehmann,
    differenceOfMeans: draft.differenceOfMeans,
    rankTest: { ...draft.rank, pAdjusted: adjusted.rank },
    paired: paired && found && equivalence && pairedPart(paired, found, equivalence),
    allowed: task.allowed,
  };
}

function verdictOf(
  found: DifferenceFound | null,
  lag: LagKind,
  equivalent: boolean,
  different: boolean,
  range: IntervalMs | null,
): ComparisonVerdict {
  if (found === null) return 'undecided';
  if (range !== null) return range[1] <= 0 ? 'less-lag' : 'adds-variable';
  if (lag !== 'fixed') return 'undecided';
  if (equivalent) return 'no-added-lag';
  if (!different) return 'undecided';
  return found.difference > 0 ? 'adds-fixed' : 'less-lag';
}

/** What is added to the fastest and to the slowest press: in pairs as seen, else by the form of the jitter. */
function rangeOf({ paired, group }: Draft, found: DifferenceFound): IntervalMs {
  if (paired) {
    const all = paired.differencesMs.flat();
    return [Math.min(...all), Math.max(...all)];
  }
  const [low, high] = jitterRange(group.spread!);
  return [found.difference + low, found.difference + high];
}

function moreFor(draft: Draft, marginMs: number, answered: boolean, claims: number): number | null {
  const { group, baseline, density, floorMs, paired } = draft;
  const n = paired
    ? paired.differencesMs.flat().length
    : Math.min(group.latenciesMs.length, baseline.latenciesMs.length);
  if (density === null || answered) return moreForSpread(n);
  const { mean: differenceMs, sd } = densityMoments(density);
  return moreForDifference({
    n,
    differenceMs,
    uncertaintyMs: sd,
    floorMs: paired ? 0 : floorMs,
    marginMs,
    claims,
    periodMs: paired ? null : (group.periodMs ?? baseline.periodMs),
    spreadMs: Math.max(pressSpreadMs(group), pressSpreadMs(baseline)),
  });
}

/** Measurement and jitter of one press together, ms. */
function pressSpreadMs({ clips, spread }: GroupEstimate): number {
  const own = clips.flatMap((c) => c.region.latencies.map((l) => l.ownUncertaintyMs ** 2));
  return Math.hypot(Math.sqrt(mean(own)), spread?.jitterMs ?? 0);
}

function pairedPart(
  paired: PairedDifference,
  found: DifferenceFound,
  equivalence: ComparedEquivalence,
): PairedComparison {
  return {
    ...differenceMs(found),
    clips: paired.clips.length,
    pairs: paired.differencesMs.flat().length,
    regions: paired.clips.map(({ group, baseline }) => ({
      record: group.recordPath,
      region: group.name,
      baselineRegion: baseline.name,
    })),
    hodgesLehmann: paired.hodgesLehmann,
    sdMs: paired.sdMs,
    jitterMs: paired.jitterMs,
    jitterIntervalMs: paired.jitterIntervalMs,
    lag: paired.lag,
    p: found.p,
    equivalence,
  };
}
