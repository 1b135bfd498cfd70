/** What the clips of each group say about its fixed delay and its spread, without pooling them as if one clip. */
import { mean, sampleVariance } from '../stats/describe.js';
import { blurDensity, densityOfPoints, type GridDensity, studentDensity } from '../stats/gridDensity.js';
import { type RandomEffects, randomEffects } from '../stats/randomEffects.js';
import { fitWaitModel, type LatencyValue, type WaitModelFit } from '../stats/waitModel.js';
import { weightedMoments } from '../stats/weightedPosterior.js';
import { type MeasuredRegion, meanSharedErrors, type SharedErrors, uncancelledMs } from './measuredRegion.js';
import type { RegionGroup } from './regionGroups.js';

/** Presses below which a clip's delay and spread are not fitted. */
export const LEAST_PRESSES = 3;
/** Median of the prior of the between-clip spread, ms: a phone set up anew; judgement, weak against a few clips. */
export const BETWEEN_CLIPS_SCALE_MS = 0.3;
/** Lattice of the delay's distributions, as a share of the narrowest one's sd. */
const STEP_SHARE = 0.1;
/** Length of a distribution in standard deviations of its widest error, with room for Student's tails. */
const ERROR_REACH = 60;
/** No finer and no coarser than this, ms. */
const FINEST_STEP_MS = 0.002;
const COARSEST_STEP_MS = 0.1;
/** Most points of a lattice: far more than a bench needs, so that only a record of wild numbers gets a coarser one. */
const MOST_POINTS = 200_000;

/** One region of one clip with its fit. */
export interface FittedClip {
  readonly region: MeasuredRegion;
  /** Null below three presses. */
  readonly fit: WaitModelFit | null;
}

/** A group with what its clips say together. */
export interface GroupEstimate {
  readonly group: RegionGroup;
  readonly clips: readonly FittedClip[];
  readonly latenciesMs: readonly number[];
  /** Index among the centres of `delays`; null where no clip could be fitted. */
  readonly delayIndex: number | null;
  /** Fit of all presses with each clip shifted to the group's delay: for the spread only. */
  readonly spread: WaitModelFit | null;
  readonly sharedErrorsMs: SharedErrors;
  readonly periodMs: number | null;
}

/** All groups together: they share the spread between clips. */
export interface GroupEstimates {
  readonly groups: readonly GroupEstimate[];
  /** Random effects of the fixed delays; null where no group could be fitted. */
  readonly delays: RandomEffects | null;
  /** Random effects of the mean latencies, same groups. */
  readonly means: RandomEffects | null;
}

/** Fits every clip, then the groups together. */
export function estimateGroups(groups: readonly RegionGroup[]): GroupEstimates {
  const fitted = groups.map((group) => group.members.map((region) => ({ region, fit: fitClip(region) })));
  const withDelay = fitted.map((clips) => clips.filter((c) => c.fit !== null));
  const indexed = withDelay.flatMap((clips, g) => (clips.length > 0 ? [g] : []));
  const reachMs = reachOf(withDelay.flat());
  const step = latticeStep(withDelay.flat().map(ownUncertaintyMs), reachMs);
  const delays =
    indexed.length === 0
      ? null
      : randomEffects(
          indexed.map((g) =>
            withDelay[g]!.map((c) => blurDensity(delayPosterior(c, step), c.region.clipUncertaintyMs)),
          ),
          BETWEEN_CLIPS_SCALE_MS,
        );
  const meanErrors = withDelay.flat().map((c) => standardErrorMs(c.region));
  const meanStep = latticeStep(meanErrors, reachMs);
  const means =
    indexed.length === 0
      ? null
      : randomEffects(
          indexed.map((g) =>
            withDelay[g]!.map((c) =>
              blurDensity(meanPosterior(c.region, meanStep), c.region.clipUncertaintyMs),
            ),
          ),
          BETWEEN_CLIPS_SCALE_MS,
        );
  return {
    delays,
    means,
    groups: groups.map((group, g) => {
      const clips = fitted[g]!;
      const at = indexed.indexOf(g);
      const periods = group.members.flatMap((m) => (m.periodMs === null ? [] : [m.periodMs]));
      const periodMs = periods.length === 0 ? null : mean(periods);
      return {
        group,
        clips,
        latenciesMs: group.members.flatMap((m) => m.latencies.map((l) => l.ms)),
        delayIndex: at < 0 ? null : at,
        spread: spreadFit(withDelay[g]!, periodMs, delays?.spread?.sd ?? 0),
        sharedErrorsMs: meanSharedErrors(group.members),
        periodMs,
      };
    }),
  };
}

function fitClip(region: MeasuredRegion): WaitModelFit | null {
  if (region.latencies.length < LEAST_PRESSES) return null;
  return fitWaitModel(pressesOf(region), {
    periodMs: region.periodMs,
    commonUncertaintyMs: Math.hypot(region.clipUncertaintyMs, uncancelledMs(region.sharedErrorsMs)),
  });
}

/** Latencies of a region as the wait model wants them. */
export function pressesOf(region: MeasuredRegion): LatencyValue[] {
  return region.latencies.map((l) => ({ valueMs: l.ms, uncertaintyMs: l.ownUncertaintyMs }));
}

/** Standard uncertainty of a clip's delay from its presses alone, ms. */
function ownUncertaintyMs({ fit }: FittedClip): number {
  return weightedMoments(fit!.delayPosterior).sd;
}

function latticeStep(uncertaintiesMs: readonly number[], reachMs: number): number {
  const narrowest = uncertaintiesMs.length > 0 ? Math.min(...uncertaintiesMs) : 1;
  const step = Math.min(COARSEST_STEP_MS, Math.max(FINEST_STEP_MS, STEP_SHARE * narrowest));
  return coarseEnough(step, reachMs);
}

/** How far distributions reach whose middles lie within `apartMs` and whose widest error is `widestMs` (sd), ms. */
export function distributionReach(apartMs: number, widestMs: number): number {
  return apartMs + ERROR_REACH * widestMs;
}

/** The step, or a coarser one where a distribution that reaches so far would have too many points. */
export function coarseEnough(stepMs: number, reachMs: number): number {
  return Math.max(stepMs, reachMs / MOST_POINTS);
}

/** How far the distributions of all clips reach together at most, ms: their latencies and their widest error. */
function reachOf(clips: readonly FittedClip[]): number {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  let widest = 0;
  for (const { region } of clips) {
    for (const { ms, ownUncertaintyMs: own } of region.latencies) {
      low = Math.min(low, ms);
      high = Math.max(high, ms);
      widest = Math.max(widest, own);
    }
    widest = Math.max(widest, region.clipUncertaintyMs, uncancelledMs(region.sharedErrorsMs));
  }
  return low > high ? 0 : distributionReach(high - low, Math.hypot(widest, high - low));
}

/** What a clip's presses alone say of its delay. */
export function delayPosterior({ fit }: FittedClip, step: number): GridDensity {
  return densityOfPoints(fit!.delayPosterior, step);
}

/** What a clip's presses alone say of its mean latency. */
export function meanPosterior(region: MeasuredRegion, step: number): GridDensity {
  const values = region.latencies.map((l) => l.ms);
  return studentDensity(mean(values), standardErrorMs(region), values.length - 1, step);
}

function standardErrorMs(region: MeasuredRegion): number {
  const values = region.latencies.map((l) => l.ms);
  return Math.sqrt(sampleVariance(values) / values.length);
}

/**
 * The spread within clips: each clip's presses are moved by its deviation from the group, shrunk by how well it is
 * known (best linear unbiased prediction), so that clips that differ do not count as presses that differ.
 */
function spreadFit(
  clips: readonly FittedClip[],
  periodMs: number | null,
  betweenMs: number,
): WaitModelFit | null {
  if (clips.length === 0) return null;
  if (clips.length === 1) return clips[0]!.fit;
  const centre = mean(clips.map((c) => c.fit!.fixedDelayMs));
  const values = clips.flatMap((clip) => {
    const { region, fit } = clip;
    const sd = Math.hypot(ownUncertaintyMs(clip), region.clipUncertaintyMs);
    const shrink = betweenMs ** 2 / (betweenMs ** 2 + sd ** 2);
    const shift = shrink * (fit!.fixedDelayMs - centre);
    return region.latencies.map((l) => ({ valueMs: l.ms - shift, uncertaintyMs: l.ownUncertaintyMs }));
  });
  return fitWaitModel(values, { periodMs });
}
