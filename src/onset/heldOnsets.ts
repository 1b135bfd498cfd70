/** Onsets of held light at a response level. */
import { levelTime, weightedLevelTime } from './edgeShape.js';
import type { HeldEdge, HeldRegion, HeldTimes } from './heldTimes.js';
import { type Delay, type InStep, pulseDelay } from './inStep.js';
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
  return times.regions.map((region, r) =>
    hideIn(regionOnsets(region, { rise, fall }, r, times, level), times),
  );
}

function regionOnsets(
  { region, edges, lines, signals }: HeldRegion,
  forms: { readonly rise: ResponseForm; readonly fall: ResponseForm },
  index: number,
  times: HeldTimes,
  level: number,
): OnsetSet {
  const { periodS, inStep } = times;
  const rise = shapeFor(forms.rise, region.height);
  const fall = shapeFor(forms.fall, region.height);
  const known = new Map<string, LevelTimes>();
  // Edges of one kind and one sign share their form.
  const passesOf = (edge: HeldEdge): LevelTimes => {
    const key = `${edge.kind} ${edge.sign}`;
    const passes = known.get(key) ?? levelTimes(edge, lines[edge.kind]!, level);
    known.set(key, passes);
    return passes;
  };
  const held = edges.map((edge) => onsetAt(edge, passesOf(edge), periodS));
  const delays = inStep && delaysOf(edges, held, times, inStep);
  const onsets = delays ? held.map((o) => later(o, o.sign > 0 ? delays.rise : delays.fall)) : held;
  const riseTimeT = levelTime(0.9, rise) - levelTime(0.1, rise);
  return {
    ...noOnsets(region, signals),
    onsets: onsets.sort((a, b) => a.levelS - b.levelS),
    shapes: { rise, fall },
    responseTimeMs: forms.rise.tauT > 0.12 ? riseTimeT * periodS * 1000 : null,
    shapeSdS: Math.hypot((forms.rise.levelSdT[index] ?? 0) * periodS, delays?.rise.sdS ?? 0),
    warnings: inStep ? [inStepWarning(inStep)] : [],
  };
}

function inStepWarning({ isStated }: InStep): string {
  const why = isStated
    ? 'is said to refresh at a multiple of the capture rate: a light that comes in pulses (strobed backlight, tube) looks steady then, and'
    : 'never shows a partly lit frame: its light seems to come in pulses (strobed backlight, tube) in step with the frames, so that';
  return `The display ${why} latencies are known to about half a camera frame only. Film at another capture rate.`;
}

/** When a response passes its levels, capture periods after first light. */
interface LevelTimes {
  readonly levelT: number;
  readonly halfT: number;
  readonly settledT: number;
  /** Standard uncertainty of `levelT` by the form of this kind alone. */
  readonly formT: number;
}

function levelTimes(
  { shape, against, form }: HeldEdge,
  lines: HeldRegion['lines'][number],
  level: number,
): LevelTimes {
  const passes = (share: number) => weightedLevelTime(share, shape, lines, against);
  return {
    ...{ levelT: passes(level), halfT: passes(0.5), settledT: passes(0.9) },
    formT: form ? formAt(form, level).levelSdT[0]! : 0,
  };
}

function onsetAt(
  { frame, kind, sign, originS, posterior, contrast, rippleT, gaps }: HeldEdge,
  { levelT, halfT, settledT, formT }: LevelTimes,
  periodS: number,
): Onset {
  const at = (t: number) => originS + t * periodS;
  // Ripple is said as well as counted.
  const flickers = rippleT !== null;
  const sdT = Math.hypot(posterior.sdT, rippleT ?? 0, formT);
  // A flash of a few pulses, some of which the frames miss, is fitted on one of its own pulses, and as the other way.
  const isContrary = (posterior.after - posterior.before) * sign < 0;
  return {
    ...{ frame, kind, sign, contrast },
    firstLightS: at(posterior.meanT),
    levelS: at(posterior.meanT + levelT),
    halfS: at(posterior.meanT + halfT),
    settledS: at(posterior.meanT + settledT),
    sdS: sdT * periodS,
    excessKurtosis: flickers ? 0 : posterior.excessKurtosis,
    intervalS: [
      at(posterior.intervalT[0] + levelT - 1.96 * formT),
      at(posterior.intervalT[1] + levelT + 1.96 * formT),
    ],
    before: posterior.before,
    after: posterior.after,
    flags: [
      ...gaps,
      ...(contrast < 5 ? ['weak-contrast'] : []),
      ...(flickers ? [FLICKERING] : []),
      ...(isContrary ? [UNSEEN] : []),
    ],
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
 * Light that looks steady and may come in pulses: how much later its changes are then, those of one sign alike, since they
 * all meet the frames at one phase.
 */
function delaysOf(edges: readonly HeldEdge[], onsets: readonly Onset[], times: HeldTimes, inStep: InStep) {
  const exposureS = times.exposureFraction * times.periodS;
  const of = (sign: 1 | -1): Delay => {
    const all = edges.flatMap((edge, i) => (edge.sign === sign ? [edge.firstLitS - onsets[i]!.levelS] : []));
    all.sort((a, b) => a - b);
    return pulseDelay(inStep, all[all.length >> 1] ?? 0, exposureS);
  };
  return { rise: of(1), fall: of(-1) };
}

function later(onset: Onset, { lateS }: Delay): Onset {
  return {
    ...onset,
    firstLightS: onset.firstLightS + lateS,
    levelS: onset.levelS + lateS,
    halfS: onset.halfS + lateS,
    settledS: onset.settledS + lateS,
    intervalS: [onset.intervalS[0] + lateS, onset.intervalS[1] + lateS],
  };
}
