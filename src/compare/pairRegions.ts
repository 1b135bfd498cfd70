/** Two chains in one picture: press by press the wait and the LED cancel. */
import type { LagKind } from '../record/comparison.js';
import { mean, sampleSd } from '../stats/describe.js';
import { excessVarianceFromSd } from '../stats/excessVariance.js';
import { blurDensity, type GridDensity, studentDensity } from '../stats/gridDensity.js';
import { hodgesLehmannPaired } from '../stats/hodgesLehmann.js';
import { centreOf, randomEffects } from '../stats/randomEffects.js';
import { BETWEEN_CLIPS_SCALE_MS, coarseEnough, distributionReach } from './groupEstimates.js';
import { type MeasuredRegion, uncancelledMs } from './measuredRegion.js';
import type { RegionGroup } from './regionGroups.js';

/** Pairs below which nothing is said. */
export const LEAST_PAIRS = 3;
/** Spread up to which a difference counts as fixed: this share of the refresh, as in the wait model. */
const TOLERANCE_SHARE = 1 / 8;
/** The same where the refresh is not known, ms. */
const TOLERANCE_MS = 1;
/** No camera is believed to be better than this, ms. */
const LEAST_CAMERA_SD_MS = 0.01;

/** The pairs of two groups. */
export interface PairedDifference {
  readonly clips: readonly { readonly group: MeasuredRegion; readonly baseline: MeasuredRegion }[];
  /** Group minus baseline of every press, clip by clip, ms. */
  readonly differencesMs: readonly (readonly number[])[];
  /** Distribution of the chains' difference. */
  readonly density: GridDensity;
  readonly hodgesLehmann: { readonly differenceMs: number; readonly intervalMs: readonly [number, number] };
  /** Within clips, ms. */
  readonly sdMs: number;
  readonly jitterMs: number;
  readonly jitterIntervalMs: readonly [number, number];
  readonly lag: LagKind;
}

/** The paired difference of two groups; null where no clip shows both with three presses. */
export function pairRegions(group: RegionGroup, baseline: RegionGroup): PairedDifference | null {
  const clips = group.members.flatMap((g) => {
    const b = baseline.members.find((m) => m.clip === g.clip && m.name !== g.name);
    return b && sharedPresses(g, b).length >= LEAST_PAIRS ? [{ group: g, baseline: b }] : [];
  });
  if (clips.length === 0) return null;
  const pairs = clips.map(({ group: g, baseline: b }) => sharedPresses(g, b));
  const differencesMs = pairs.map((list) => list.map((p) => p.differenceMs));
  const all = differencesMs.flat();
  const freedom = all.length - clips.length;
  const squares = differencesMs.reduce((sum, d) => sum + (d.length - 1) * sampleSd(d) ** 2, 0);
  const sdMs = Math.sqrt(squares / freedom);
  const cameraMs = Math.max(LEAST_CAMERA_SD_MS, Math.sqrt(mean(pairs.flat().map((p) => p.variance))));
  const excess = excessVarianceFromSd(freedom + 1, sdMs, cameraMs);
  const periodMs = clips[0]!.group.periodMs;
  const toleranceMs = periodMs === null ? TOLERANCE_MS : TOLERANCE_SHARE * periodMs;
  const [low, high] = excess.excessSdInterval;
  const robust = hodgesLehmannPaired(all, new Float64Array(all.length));
  return {
    clips,
    differencesMs,
    // Two places of one screen can agree better than the camera deserves: their errors repeat from press to press.
    density: densityOf(clips, differencesMs, Math.max(sdMs, cameraMs), freedom),
    hodgesLehmann: { differenceMs: robust.shift, intervalMs: robust.interval },
    sdMs,
    jitterMs: excess.excessSd,
    jitterIntervalMs: [low, high],
    lag: high < toleranceMs ? 'fixed' : low > toleranceMs ? 'variable' : 'undecided',
  };
}

interface SharedPress {
  readonly differenceMs: number;
  /** Of the camera, ms^2; the LED's part cancels. */
  readonly variance: number;
}

function sharedPresses(group: MeasuredRegion, baseline: MeasuredRegion): SharedPress[] {
  const byPress = new Map(baseline.latencies.map((l) => [l.pressIndex, l]));
  return group.latencies.flatMap((g) => {
    const b = byPress.get(g.pressIndex);
    if (!b) return [];
    const variance =
      g.ownUncertaintyMs ** 2 + b.ownUncertaintyMs ** 2 - g.ledUncertaintyMs ** 2 - b.ledUncertaintyMs ** 2;
    return [{ differenceMs: g.ms - b.ms, variance: Math.max(0, variance) }];
  });
}

/**
 * Student's t of each clip's mean difference (spread pooled over the clips, and never less than the camera's own), clips
 * joined by random effects.
 */
function densityOf(
  clips: PairedDifference['clips'],
  differencesMs: readonly (readonly number[])[],
  sdMs: number,
  freedom: number,
): GridDensity {
  const errors = differencesMs.map((d) => Math.max(sdMs, 1e-3) / Math.sqrt(d.length));
  const widest = Math.max(
    ...errors,
    ...clips.flatMap((c) =>
      [c.group, c.baseline].map((r) => Math.hypot(r.clipUncertaintyMs, uncancelledMs(r.sharedErrorsMs))),
    ),
  );
  const means = differencesMs.map((d) => mean(d));
  const step = coarseEnough(
    Math.min(...errors) / 10,
    distributionReach(Math.max(...means) - Math.min(...means), widest),
  );
  const likelihoods = clips.map(({ group, baseline }, c) =>
    blurDensity(
      studentDensity(mean(differencesMs[c]!), errors[c]!, freedom, step),
      Math.hypot(group.clipUncertaintyMs, baseline.clipUncertaintyMs),
    ),
  );
  const effects = randomEffects([likelihoods], BETWEEN_CLIPS_SCALE_MS);
  // Readout and rate of the one camera: what differs between the two places in the picture, mean over the clips.
  const uncancelled = mean(
    clips.map((c) => uncancelledMs(c.group.sharedErrorsMs, c.baseline.sharedErrorsMs)),
  );
  return centreOf(effects, 0, uncancelled);
}
