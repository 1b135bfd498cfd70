/** Difference of two groups in the fixed delay and in the mean, with what its clips and the camera add to its error. */
import { delayShift } from '../stats/delayShift.js';
import { shiftByExchange } from '../stats/exchange.js';
import { blurDensity, type GridDensity, mixDensities, subtractDensities } from '../stats/gridDensity.js';
import { meansExchanged } from '../stats/meanShift.js';
import { differenceOfCentres, type RandomEffects } from '../stats/randomEffects.js';
import {
  delayPosterior,
  type FittedClip,
  type GroupEstimate,
  type GroupEstimates,
  meanPosterior,
  pressesOf,
} from './groupEstimates.js';

/** Delay of the group less that of its baseline. */
export function delayDifference(
  estimates: GroupEstimates,
  group: GroupEstimate,
  baseline: GroupEstimate,
  sharedMs: number,
): GridDensity {
  const effects = estimates.delays!;
  return differenceBy(effects, group, baseline, sharedMs, (x, y) => {
    const { step } = effects.nodes[0]!.centres[0]!;
    const posteriors = subtractDensities(delayPosterior(x, step), delayPosterior(y, step));
    return delayShift(
      { latencies: pressesOf(x.region), fit: x.fit! },
      { latencies: pressesOf(y.region), fit: y.fit! },
      posteriors,
    );
  });
}

/** Mean latency of the group less that of its baseline. */
export function meanDifference(
  estimates: GroupEstimates,
  group: GroupEstimate,
  baseline: GroupEstimate,
  sharedMs: number,
): GridDensity {
  const effects = estimates.means!;
  return differenceBy(effects, group, baseline, sharedMs, (x, y) => {
    const { step } = effects.nodes[0]!.centres[0]!;
    const students = subtractDensities(meanPosterior(x.region, step), meanPosterior(y.region, step));
    const values = ({ region }: FittedClip) => region.latencies.map((l) => l.ms);
    return shiftByExchange(students, meansExchanged(values(x), values(y)));
  });
}

/**
 * Presses of one clip may be exchanged with those of another. Where a group has several clips, what its clips have in
 * common is what random effects say.
 */
function differenceBy(
  effects: RandomEffects,
  group: GroupEstimate,
  baseline: GroupEstimate,
  sharedMs: number,
  ofClips: (x: FittedClip, y: FittedClip) => GridDensity,
): GridDensity {
  const [x, ...moreX] = group.clips.filter((c) => c.fit !== null);
  const [y, ...moreY] = baseline.clips.filter((c) => c.fit !== null);
  if (moreX.length > 0 || moreY.length > 0) {
    return differenceOfCentres(effects, group.delayIndex!, baseline.delayIndex!, sharedMs);
  }
  const clipsMs = Math.hypot(x!.region.clipUncertaintyMs, y!.region.clipUncertaintyMs);
  const shift = ofClips(x!, y!);
  const parts = effects.nodes.map(({ sd, share }) => ({
    share,
    density: blurDensity(shift, Math.hypot(clipsMs, Math.SQRT2 * sd)),
  }));
  return blurDensity(mixDensities(parts), sharedMs);
}
