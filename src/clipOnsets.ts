/**
 * What changed when in all regions of a clip: from samples to clock, traces and onsets. The slow half of a measurement;
 * it knows of no press and of no person's decision.
 */
import { type CaptureClock, resolveCaptureClock, type UnknownClock } from './clip/captureClock.js';
import { type ClipFacts, type FrameTimes, uprightSize } from './clip/frameSource.js';
import { pickFrames } from './clip/pickFrames.js';
import { judgePictures } from './clip/pictureCadence.js';
import { UNKNOWN_EXPOSURE, UNKNOWN_READOUT } from './clip/unknownCamera.js';
import { AnalysisError } from './errors.js';
import { findLedOnsets, type LedOnsets } from './onset/ledOnsets.js';
import { ledToneBend, type ToneBend, toneToTakeOut } from './onset/ledTone.js';
import { findScreenTimes, type ScreenTimes, type ShutterSeen, shuttersSeen } from './onset/screenTimes.js';
import type { CameraCalibration } from './record/camera.js';
import { cameraReadout } from './record/cameraReadout.js';
import type { ExposureUsed, ReadoutUsed } from './record/composeRecord.js';
import type { Recipe } from './record/recipe.js';
import { everyStepAnew, type Remember } from './remember.js';
import type { ClipSamples } from './samples/samples.js';
import { lampGain, makeTrace, type Trace } from './trace/trace.js';

/** All changes of one clip, and what they were found with. */
export interface ClipOnsets {
  /** Of the used frames only. */
  readonly samples: ClipSamples;
  readonly clock: CaptureClock;
  readonly readout: ReadoutUsed;
  readonly exposure: ExposureUsed;
  /** Bend of the camera's tone curve that was taken out of all light, as the LED showed it; null where it shows nothing. */
  readonly tone: ToneBend | null;
  readonly ledTrace: Trace;
  readonly led: LedOnsets;
  /** One a screen region, in the order of the recipe. */
  readonly screenTraces: readonly Trace[];
  /** Their changes, before any response level. */
  readonly screenTimes: ScreenTimes | null;
}

/** What of a recipe bears on the changes: nothing that a person decides about presses or answers does. */
export interface OnsetRecipe extends Pick<Recipe, 'regions' | 'capture'> {
  readonly display: Pick<Recipe['display'], 'refreshHz'>;
}

/** That part of a recipe, and nothing else of it. */
export function onsetRecipe({ regions, capture, display }: OnsetRecipe): OnsetRecipe {
  const { rateHz, exposureFraction, readoutFraction } = capture;
  return {
    regions,
    capture: { rateHz, exposureFraction, readoutFraction },
    display: { refreshHz: display.refreshHz },
  };
}

/** What else is known. */
export interface OnsetOptions {
  /** A camera file. */
  readonly camera?: CameraCalibration | undefined;
  /** The readout that the clip itself has shown meanwhile. */
  readonly readoutShown?: ReadoutUsed | undefined;
  /** May know some steps already. */
  readonly remember?: Remember | undefined;
}

const BOUNCE_S = 0.012;
const MUCH_SHARPER = 0.7;
// Standard uncertainties of both, between an LED's exposure and the pulses', from which on they contradict each other.
const CONTRADICTS = 3;

/**
 * The clip's clock, from the times of its frames and from what the pictures of its regions say about themselves. Pure.
 * @param remember may know some steps already.
 * @throws UsageError where the stated rate makes no sense with this clip.
 */
export function clipClock(
  { regions, frames }: ClipSamples,
  { ptsTicks }: FrameTimes,
  facts: ClipFacts,
  statedRateHz: number | null,
  remember: Remember = everyStepAnew,
): CaptureClock | UnknownClock {
  const isReordered = facts.layout?.reordered ?? false;
  const lights = regions.map((r) => r.light);
  const of = lights[0] ?? ptsTicks;
  const inputs = [...lights, ...regions.map((r) => r.region.role), ptsTicks, statedRateHz] as const;
  return remember('clock', [of, ...inputs], () =>
    resolveCaptureClock({
      facts,
      ptsTicks,
      statedRateHz,
      pictures: judgePictures(regions, frames, isReordered, remember),
      fastPartsOnly: true,
    }),
  );
}

/**
 * Finds what changed in a clip's regions. Pure.
 * @throws AnalysisError `nothing-measurable` for a few frames, `rate-unknown` where the clip does not say how fast it was
 *   filmed; UsageError where the stated rate makes no sense with this clip.
 */
export function findClipOnsets(
  allSamples: ClipSamples,
  times: FrameTimes,
  facts: ClipFacts,
  recipe: OnsetRecipe,
  { camera, readoutShown, remember = everyStepAnew }: OnsetOptions = {},
): ClipOnsets {
  if (allSamples.frames < 8) {
    throw new AnalysisError(
      'nothing-measurable',
      `${facts.file} has only ${allSamples.frames} frames: too short to measure`,
    );
  }
  const clock = clipClock(allSamples, times, facts, recipe.capture.rateHz, remember);
  if (!clock.known) throw rateUnknown(facts, clock.reason, { clock });
  const samples = clock.usedFrames ? onlyFrames(allSamples, clock.usedFrames, remember) : allSamples;
  const readout = readoutShown ?? readoutOf(recipe, facts, clock.captureRateHz, camera);
  const reference = recipe.regions.find((r) => r.role === 'reference');
  const lightOf = (name: string) => samples.regions.find((r) => r.region.name === name)!;
  const gain =
    reference && remember('gain', [lightOf(reference.name).light], () => lampGain(samples, reference.name));
  const traceOf = (name: string, keepClipped = false, bend = 0) => {
    const { light, clippedShare, region } = lightOf(name);
    // What is clipped is settled by all regions together, so that it may change without the light.
    const inputs = [
      clippedShare.join(),
      JSON.stringify(region),
      clock,
      readout.fraction,
      gain,
      bend,
    ] as const;
    return remember(keepClipped ? 'whole trace' : 'trace', [light, ...inputs], () =>
      makeTrace(samples, name, clock, readout.fraction, { gain, bend, keepClipped }),
    );
  };
  const ledRegion = recipe.regions.find((r) => r.role === 'led')!;
  const screenRegions = recipe.regions.filter((r) => r.role === 'screen');
  const { exposureFraction } = recipe.capture;
  const ledAt = (step: string, trace: Trace, fraction: number | null) =>
    remember(step, [trace, fraction], () =>
      findLedOnsets(trace, { exposureFraction: fraction, bounceS: BOUNCE_S }),
    );
  const taggedTrace = traceOf(ledRegion.name);
  const taggedLed = ledAt('LED', taggedTrace, exposureFraction);
  const shown = remember('tone', [taggedTrace, taggedLed], () => ledToneBend(taggedTrace, taggedLed.onsets));
  const tone = shown && toneToTakeOut(shown);
  const bend = tone?.bend ?? 0;
  const cleanLedTrace = bend === 0 ? taggedTrace : traceOf(ledRegion.name, false, bend);
  const cleanLed = bend === 0 ? taggedLed : ledAt('LED straight', cleanLedTrace, exposureFraction);
  // An LED that clips and has no halo is in none of the cells that do not clip.
  const isHidden = cleanLed.onsets.length === 0 && cleanLedTrace.clippedCells > 0;
  const ledTrace = isHidden ? traceOf(ledRegion.name, true, bend) : cleanLedTrace;
  const firstLed = isHidden
    ? ledAt('LED', ledTrace, exposureFraction ?? UNKNOWN_EXPOSURE.fraction)
    : cleanLed;
  // Partly lit frames of an LED that clips look fully lit: they would tell of too short an exposure.
  const firstExposure = exposureOf(recipe, ledTrace.saturated ? null : firstLed.exposure);
  const screenTraces = screenRegions.map((r) => traceOf(r.name, false, bend));
  const screenTimes = findScreenTimes(
    screenTraces,
    {
      exposureFraction: firstExposure.fraction,
      exposureSd: firstExposure.sd,
      refreshHz: recipe.display.refreshHz,
      pictureHeightPx: uprightSize(facts).height,
    },
    remember,
  );
  // A display that pulses measures the shutter far better than an LED that goes on and off a few times.
  const exposure = sharperExposure(firstExposure, screenTimes);
  // A clipped LED was fitted with the exposure that its own clipped frames tell of, unless it had to be given one.
  const isMisled = ledTrace.saturated && !isHidden && exposureFraction === null;
  const led =
    exposure === firstExposure && !isMisled
      ? firstLed
      : { ...ledAt('LED again', ledTrace, exposure.fraction), exposure: firstLed.exposure };
  return { samples, clock, readout, exposure, tone, ledTrace, led, screenTraces, screenTimes };
}

/** The sentence of an unknown clock as an error that names the clip. */
export function rateUnknown({ file }: ClipFacts, reason: string, details = {}): AnalysisError {
  // The clock's sentence speaks of "the clip" or "the file"; here it has a name.
  const named = reason.replace(/^The (clip|file) /, `${file} `).replace(/\.$/, '');
  return new AnalysisError('rate-unknown', named.startsWith(file) ? named : `${file}: ${named}`, details);
}

/** The recipe's own statement first, then the camera file. */
function readoutOf(
  recipe: OnsetRecipe,
  facts: ClipFacts,
  captureRateHz: number,
  camera: CameraCalibration | undefined,
): ReadoutUsed {
  const stated = recipe.capture.readoutFraction;
  if (stated !== null) return { fraction: stated, sd: 0, source: 'stated' };
  if (!camera) return { ...UNKNOWN_READOUT, source: 'unknown' };
  return { ...cameraReadout(camera, { ...facts, captureRateHz }), source: 'calibrated' };
}

function exposureOf(recipe: OnsetRecipe, found: LedOnsets['exposure']): ExposureUsed {
  const stated = recipe.capture.exposureFraction;
  if (stated !== null) return { fraction: stated, sd: 0, interval: null, source: 'stated' };
  if (!found) return { ...UNKNOWN_EXPOSURE, interval: null, source: 'assumed' };
  return {
    fraction: found.fraction,
    sd: (found.interval[1] - found.interval[0]) / 4,
    interval: found.interval,
    source: 'measured',
  };
}

/**
 * The exposure fraction that a screen's pulses show, where it is known better from them; or where it contradicts that of
 * the LED: one that lights as slowly as a long exposure blurs looks like an instant one behind a long exposure.
 */
function sharperExposure(known: ExposureUsed, screens: ScreenTimes | null): ExposureUsed {
  const isBetter = ({ fraction, sd }: ShutterSeen) =>
    sd < MUCH_SHARPER * known.sd ||
    (sd < known.sd && known.fraction - fraction > CONTRADICTS * Math.hypot(sd, known.sd));
  const shown = shuttersSeen(screens).find(isBetter);
  if (!shown) return known;
  const interval = [
    Math.max(0, shown.fraction - 1.96 * shown.sd),
    Math.min(1, shown.fraction + 1.96 * shown.sd),
  ];
  return {
    fraction: shown.fraction,
    sd: shown.sd,
    interval: interval as [number, number],
    source: 'measured',
  };
}

function onlyFrames(samples: ClipSamples, used: Uint32Array, remember: Remember): ClipSamples {
  const pick = <A extends Uint16Array | Float32Array>(all: A) =>
    remember('used frames', [all, used], () => pickFrames(all, samples.frames, used));
  const regions = samples.regions.map((region) => ({ ...region, light: pick(region.light) }));
  return { frames: used.length, frameChange: pick(samples.frameChange), regions };
}
