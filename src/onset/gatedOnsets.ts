/** Onsets on a screen whose backlight is switched on and off, at a response level. */
import { levelTime } from './edgeShape.js';
import type { Gate } from './gate.js';
import { envelope, firstFlash, halfway } from './gatedAnswer.js';
import type { GatedEdge, GatedRegion, GatedTimes } from './gatedTimes.js';
import { type Onset, type OnsetSet, UNSEEN } from './onset.js';
import { formAt, type ResponseForm, shapeFor } from './responseForm.js';
import { FLICKERING } from './ripple.js';

// Start and length of a dimmer's pulses, tone curve and form of the cells leave this much of a level's time unknown even
// where each of them fits sharply, capture periods (simulated clips).
const DIMMED_FORM_SD = 0.03;
// Where all changes come at one phase of the frames, forms that differ by this explain them alike (simulated clips: 0.3 and
// 0.2 off, seeds 31063 and 36001; 0.5 and 0.4, seeds 12124 and 19043).
const ONE_PHASE_SD = 0.2;
// A pulse's share of an exposure moves an edge by up to as much as the exposure is off; on average by half of that.
const PER_EXPOSURE = 0.5;
// What the rhythm leaves of the light, over the step of a change, above which a change may hide in it.
const RIPPLE = 0.1;
// A time that flashes leave open by more than this (standard, capture periods) is not known to a camera frame either way.
const MOST_OPEN_T = 0.5;
// A step of so many times the noise is none that a camera sees: no lit frame shows the picture on one of its sides.
const MOST_CONTRAST = 1e5;
// Steps of less than this share of the usual one are none.
const LEAST_STEP = 0.3;

/**
 * One set a region: cells that settle, or the first flash that shows the level.
 * @param level 0..1.
 */
export function gatedOnsets(times: GatedTimes, level: number): OnsetSet[] {
  const rise = formAt(times.rise, level);
  const fall = formAt(times.fall, level);
  return times.regions.map((region, i) => onsetSet(region, i, { rise, fall }, times, level));
}

function onsetSet(
  { region, edges, lines, signals, unseenS }: GatedRegion,
  index: number,
  forms: { readonly rise: ResponseForm; readonly fall: ResponseForm },
  times: GatedTimes,
  level: number,
): OnsetSet {
  const { gate, strobed, periodS } = times;
  const shapes = { rise: shapeFor(forms.rise, region.height), fall: shapeFor(forms.fall, region.height) };
  const onsets = edges.map((edge) => {
    const shape = edge.sign > 0 ? shapes.rise : shapes.fall;
    return gatedOnset(edge, shape, lines[edge.kind]!, times, level);
  });
  const riseTimeT = levelTime(0.9, shapes.rise) - levelTime(0.1, shapes.rise);
  return {
    ...{ region, shapes, signals, unseenS },
    onsets: onsets.filter((o) => isStep(o, onsets)).sort((a, b) => a.levelS - b.levelS),
    responseTimeMs: !strobed && forms.rise.tauT > 0.12 ? riseTimeT * periodS * 1000 : null,
    shapeSdS: strobed
      ? Math.hypot(0.02, gate.startSdT) * periodS
      : dimmedFormSdT(forms.rise.levelSdT[index] ?? 0, times) * periodS,
    light: strobed ? 'pulsed' : 'held',
    refreshHz: strobed ? 1 / (gate.periodT * periodS) : null,
    shutter: { fraction: gate.exposure, sd: gate.exposureSd },
    warnings: strobed === null ? [undecided(gate, periodS)] : [],
  };
}

function undecided(gate: Gate, periodS: number): string {
  const hz = (1 / (gate.periodT * periodS)).toFixed(2);
  return `The display's light goes off and on ${hz} times a second, which may be the display's refresh or a dimmer: each answer lies between what either would say, and is flagged. State the display's refresh rate.`;
}

function dimmedFormSdT(levelSdT: number, { gate, onePhase }: GatedTimes): number {
  const shared = Math.hypot(levelSdT, gate.startSdT, DIMMED_FORM_SD, PER_EXPOSURE * gate.exposureSd);
  return onePhase ? Math.hypot(shared, ONE_PHASE_SD) : shared;
}

/** False where the light hardly changed, compared with the other changes of the kind: what cleaning left of the pulses. */
function isStep(onset: Onset, all: readonly Onset[]): boolean {
  const sizes = all.filter((o) => o.kind === onset.kind).map((o) => Math.abs(o.after - o.before));
  sizes.sort((a, b) => a - b);
  const usual = sizes[Math.floor(0.75 * (sizes.length - 1))]!;
  return Math.abs(onset.after - onset.before) > LEAST_STEP * usual;
}

function gatedOnset(
  { frame, kind, sign, originS, posterior, contrast, bands, gaps }: GatedEdge,
  shape: OnsetSet['shapes']['rise'],
  lines: GatedRegion['lines'][number],
  { gate, strobed, periodS }: GatedTimes,
  level: number,
): Onset {
  const flash = () => firstFlash(posterior, shape, lines, gate, originS / periodS, level);
  const settled = () => envelope(posterior, shape, lines, level);
  const answer = strobed === null ? halfway(settled(), flash()) : strobed ? flash() : settled();
  // What is left of a dimmer's pulses comes and goes with them, which noise would not; flashes are counted.
  const ripple = Math.sqrt(bands) / contrast;
  const hidesT = strobed === false && ripple > RIPPLE ? 2 * ripple : 0;
  const isOpen = !answer.unseen && (strobed === null || (strobed === true && answer.sdT > MOST_OPEN_T));
  const at = (t: number) => originS + t * periodS;
  return {
    ...{ frame, kind, sign, contrast },
    firstLightS: at(answer.firstT),
    levelS: at(answer.levelT),
    halfS: at(answer.halfT),
    settledS: at(answer.settledT),
    sdS: Math.hypot(answer.sdT, hidesT) * periodS,
    excessKurtosis: hidesT > answer.sdT ? 0 : answer.excessKurtosis,
    intervalS: [at(answer.intervalT[0] - 1.96 * hidesT), at(answer.intervalT[1] + 1.96 * hidesT)],
    before: posterior.before,
    after: posterior.after,
    flags: [
      ...gaps,
      ...(contrast < 5 ? ['weak-contrast'] : []),
      ...(hidesT > 0 || isOpen ? [FLICKERING] : []),
      ...(answer.unseen || contrast > MOST_CONTRAST ? [UNSEEN] : []),
    ],
  };
}
