/** Onsets of held light at a response level. */
import { levelTime, weightedLevelTime } from './edgeShape.js';
import type { HeldEdge, HeldRegion, HeldTimes } from './heldTimes.js';
import { noOnsets, type Onset, type OnsetSet, UNSEEN } from './onset.js';
import { formAt, type ResponseForm, shapeFor } from './responseForm.js';
import { FLICKERING } from './ripple.js';

/**
 * One set a region: when the response has passed the level.
 * @param level 0..1.
 */
export function heldOnsets(times: HeldTimes, level: number): OnsetSet[] {
  const rise = formAt(times.rise, level);
  const fall = formAt(times.fall, level);
  const sets = times.regions.map((region, r) =>
    hideIn(regionOnsets(region, { rise, fall }, r, times, level), times),
  );
  return times.steady ? sets.map((set) => maybePulsed(set, times)) : sets;
}

function regionOnsets(
  { region, edges, lines, signals }: HeldRegion,
  forms: { readonly rise: ResponseForm; readonly fall: ResponseForm },
  index: number,
  { periodS }: HeldTimes,
  level: number,
): OnsetSet {
  const rise = shapeFor(forms.rise, region.height);
  const fall = shapeFor(forms.fall, region.height);
  const onsets = edges.map((edge) => onsetAt(edge, lines[edge.kind]!, periodS, level));
  onsets.sort((a, b) => a.levelS - b.levelS);
  const riseTimeT = levelTime(0.9, rise) - levelTime(0.1, rise);
  return {
    ...noOnsets(region, signals),
    onsets,
    shapes: { rise, fall },
    responseTimeMs: forms.rise.tauT > 0.12 ? riseTimeT * periodS * 1000 : null,
    shapeSdS: (forms.rise.levelSdT[index] ?? 0) * periodS,
  };
}

function onsetAt(
  { frame, kind, sign, originS, posterior, shape, against, form, contrast, rippleT, gaps }: HeldEdge,
  lines: HeldRegion['lines'][number],
  periodS: number,
  responseLevel: number,
): Onset {
  const at = (t: number) => originS + t * periodS;
  const passes = (level: number) => weightedLevelTime(level, shape, lines, against);
  const level = passes(responseLevel);
  // Ripple is said as well as counted.
  const flickers = rippleT !== null;
  const formT = form ? formAt(form, responseLevel).levelSdT[0]! : 0;
  const sdT = Math.hypot(posterior.sdT, rippleT ?? 0, formT);
  return {
    ...{ frame, kind, sign, contrast },
    firstLightS: at(posterior.meanT),
    levelS: at(posterior.meanT + level),
    halfS: at(posterior.meanT + passes(0.5)),
    settledS: at(posterior.meanT + passes(0.9)),
    sdS: sdT * periodS,
    excessKurtosis: flickers ? 0 : posterior.excessKurtosis,
    intervalS: [
      at(posterior.intervalT[0] + level - 1.96 * formT),
      at(posterior.intervalT[1] + level + 1.96 * formT),
    ],
    before: posterior.before,
    after: posterior.after,
    flags: [...gaps, ...(contrast < 5 ? ['weak-contrast'] : []), ...(flickers ? [FLICKERING] : [])],
  };
}

/** Onsets whose light may have stayed away for some frames around them. */
function hideIn(set: OnsetSet, { hiddenFrames: frames, periodS }: HeldTimes): OnsetSet {
  if (frames === 0) return set;
  const hiddenS = (frames * periodS) / Math.sqrt(12);
  const onsets = set.onsets.map((o) => ({
    ...o,
    sdS: Math.hypot(o.sdS, hiddenS),
    intervalS: [o.intervalS[0] - 1.7 * hiddenS, o.intervalS[1] + 1.7 * hiddenS] as const,
    flags: [...new Set([...o.flags, FLICKERING, ...(frames > 3 ? [UNSEEN] : [])])],
  }));
  return { ...set, onsets };
}

/**
 * Light that looks steady and may come in pulses: the first that shows a change may lie anywhere in its exposure, where a
 * steady light's change came as early as the middle of the closed time before it.
 */
function maybePulsed(set: OnsetSet, { periodS, exposureFraction }: HeldTimes): OnsetSet {
  const farthestT = (1 - exposureFraction) / 2 + exposureFraction;
  return {
    ...set,
    shapeSdS: Math.hypot(set.shapeSdS, (farthestT / 2) * periodS),
    warnings: [
      ...set.warnings,
      `The display of region "${set.region.name}" is said to refresh at a multiple of the capture rate: a light that comes in pulses (strobed backlight, tube) looks steady then, and latencies are known to about half a camera frame only. Film at another capture rate.`,
    ],
  };
}
