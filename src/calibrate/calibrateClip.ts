/** Readout time and true capture rate of a camera from a clip of a flickering light of known frequency. */
import { resolveCaptureClock } from '../clip/captureClock.js';
import type { FrameSource, PixelRect, ReadOptions } from '../clip/frameSource.js';
import { AnalysisError, expected, UsageError } from '../errors.js';
import { checkRegion, uprightToCoded } from '../region/geometry.js';
import type { Region } from '../region/region.js';
import type { PhaseLaw } from './fitPhase.js';
import { flickerOf } from './flicker.js';
import { rateFromLight } from './rateFromLight.js';
import { refineLaw } from './refineLaw.js';
import { middleStrip, type RowProfiles, readRowProfiles } from './rowProfiles.js';
import { searchBands } from './searchBands.js';

/** What is known about the clip. */
export interface CalibrationRequest {
  /** Frequency of the light's brightness, Hz: 100 or 120 for mains lamps. */
  readonly lightHz: number;
  /** Its relative standard uncertainty; by default 50 ppm (a crystal), or 577 ppm for mains. */
  readonly lightUncertaintyRel?: number;
  /** The user's own statement of the capture rate, Hz. */
  readonly captureRateHz?: number | null;
  /** Where the light is, upright px; by default the middle quarter of the coded columns, all rows. */
  readonly region?: Region;
}

/** A quantity with its standard uncertainty and 95 % interval. */
export interface Estimate {
  readonly value: number;
  readonly sd: number;
  readonly interval: readonly [number, number];
}

/** What the clip says about the camera. */
export interface Calibration {
  readonly captureRateHz: Estimate;
  /** Start of exposure of the first coded row to past the last, ms; negative where rows are read upwards. */
  readonly readoutMs: Estimate;
  /** The same over the capture period. */
  readonly readoutFraction: Estimate;
  readonly lightHz: number;
  readonly lightUncertaintyRel: number;
  readonly frames: number;
  /** Where the light was read, coded px. */
  readonly codedRect: PixelRect;
  /** Relative amplitude of the flicker in the rows, after what the exposure has averaged out. */
  readonly modulation: number;
  readonly bandsPerPicture: number;
  readonly cyclesPerFrame: number;
  /** Every rate that was at hand, Hz; null where there was none. */
  readonly rates: {
    readonly timestampsHz: number;
    readonly tagHz: number | null;
    readonly statedHz: number | null;
    readonly lightHz: number;
  };
  readonly warnings: readonly string[];
}

const CRYSTAL_REL = 5e-5;
/** Mains: within +-0.1 % nearly always (check-values 5.2), taken as uniform. */
const MAINS_REL = 1e-3 / Math.sqrt(3);
const MAINS_HZ = [100, 120];
/** Cycles over the clip below which a beat is no beat but a slow change of light (judgement). */
const STILL_CYCLES = 4;
/** Phase of a piece of the clip beside the law, cycles, that no steady light shows (judgement). */
const UNSTEADY = 0.03;
/** Slow change of the whole picture, cycles a camera frame (2.4 Hz at 240). */
const SLOW_ADVANCE = 0.01;
const FEWEST_PERIODS = 8;
const FEWEST_FRAMES = 48;
/** Modulation over its own uncertainty, and absolute, below which rows and codec may have made it (judgement). */
const SURE_TIMES = 10;
const LEAST_MODULATION = 0.002;
/** Half interval of the readout, capture periods, beyond which the clip says too little about it. */
const WIDEST_READOUT = 0.1;
/** A light that alternates from frame to frame for less than this many cycles beside it hides the bands' direction. */
const NYQUIST_CYCLES = 2;

/**
 * Calibrates a camera.
 * @throws UsageError for a request that does not fit the clip; AnalysisError `nothing-measurable` or `rate-unknown`
 *   where the clip cannot say it, with the reason and what to film instead.
 */
export async function calibrateClip(
  source: FrameSource,
  request: CalibrationRequest,
  options: ReadOptions = {},
): Promise<Calibration> {
  const { lightHz, region } = request;
  if (!(lightHz >= 1 && lightHz <= 20_000)) throw expected('lightHz', 'a number from 1 to 20000', lightHz);
  const { facts } = source;
  if (region) checkRegion(region, facts);
  const codedRect = region ? uprightToCoded(region, facts) : middleStrip(facts);
  if (codedRect.height < facts.codedHeight / 8) {
    throw new UsageError(
      'the region covers less than an eighth of the rows in which the sensor is read: choose one along the whole picture',
    );
  }
  const profiles = await readRowProfiles(source, codedRect, options);
  return calibrateProfiles(profiles, codedRect, facts, request);
}

/** Everything after the pixels. */
function calibrateProfiles(
  profiles: RowProfiles,
  codedRect: PixelRect,
  facts: FrameSource['facts'],
  request: CalibrationRequest,
): Calibration {
  const { lightHz } = request;
  const cannot = (why: string) => new AnalysisError('nothing-measurable', `${facts.file}: ${why}`);
  if (profiles.frames < FEWEST_FRAMES) {
    throw cannot(
      `has only ${profiles.frames} frames, too few to calibrate by: film some seconds of the light`,
    );
  }
  const statedHz = request.captureRateHz ?? null;
  const clock = resolveCaptureClock({ facts, ptsTicks: profiles.times.ptsTicks, statedRateHz: statedHz });
  const declaredHz = clock.known ? clock.captureRateHz : null;
  const mediaHz = clock.known ? clock.captureRateHz * clock.scale : clock.mediaRateHz;
  const guessHz = declaredHz ?? mediaHz;
  if (profiles.clippedShare > 0.3) {
    throw cannot(
      `${(100 * profiles.clippedShare).toFixed(0)} % of the light is clipped white: dim it, or shorten the exposure`,
    );
  }
  if ((profiles.frames / guessHz) * lightHz < FEWEST_PERIODS) {
    throw cannot(
      `shows fewer than ${FEWEST_PERIODS} periods of the light: film longer, or use a faster light`,
    );
  }
  const missing = clock.known ? clock.missingBefore : new Uint16Array(profiles.frames);
  const flicker = flickerOf(profiles, missing);
  const mostBands = (1.05 * lightHz) / guessHz;
  const aliased = lightHz > 0.5 * guessHz;
  const peaks = searchBands(flicker, mostBands, STILL_CYCLES).filter(
    // Automatic exposure and daylight change slowly and in all rows at once; an aliased light hardly ever does.
    (p) => !(aliased && Math.abs(p.advance) < SLOW_ADVANCE && p.bandsPerPicture < 0.5),
  );
  const rateOf = (law: PhaseLaw, directed: boolean) =>
    rateFromLight({ lightHz, advance: law.advance, directed, declaredHz, mediaHz });
  // The strongest, unless only a weaker one agrees with what is declared: then the strongest is an overtone, or a lamp.
  const agreeing = peaks.find((p) => {
    const rate = rateOf(p, p.bandsPerPicture > 0.5);
    return p.power > peaks[0]!.power / 20 && rate.rateHz !== null && !rate.overrules;
  });
  const peak = agreeing ?? peaks[0];
  const fit = peak ? refineLaw(flicker, peak) : null;
  const predicted = declaredHz === null ? null : lightHz / declaredHz;
  if (!fit || fit.modulation < SURE_TIMES * fit.modulationSd || fit.modulation < LEAST_MODULATION) {
    const whole = predicted === null ? 1 : Math.abs(predicted - Math.round(predicted));
    if (whole * profiles.frames < 2 * STILL_CYCLES || (predicted !== null && whole / predicted < 1e-3)) {
      throw cannot(
        `a light of ${lightHz} Hz stands still at ${shown(guessHz)} frames a second (a whole number of its periods in each): use another frequency`,
      );
    }
    throw cannot(
      `no flicker of ${lightHz} Hz is to be seen in the rows (at most ${(100 * (fit?.modulation ?? 0)).toFixed(2)} %): ` +
        'an exposure of a whole number of its periods hides it, and so does other light; change the exposure or the frequency, and let the light fill the picture',
    );
  }
  const sds = fit.sds;
  const lightRel = request.lightUncertaintyRel ?? (MAINS_HZ.includes(lightHz) ? MAINS_REL : CRYSTAL_REL);
  // A light may drift by what is not known of it; a crystal hardly does.
  const mayWander = UNSTEADY + (lightRel * lightHz * profiles.frames) / guessHz / 4;
  const wander = Math.max(...fit.wander.map((block) => Math.abs(block.phase)));
  if (wander > mayWander) {
    throw cannot(
      'the phase of the light jumps or wanders during the clip: the light is unsteady, or camera frames are doubled or missing without a trace; give the unmodified original of another clip',
    );
  }
  const seesDirection = Math.abs(fit.bandsPerPicture) > 3 * sds.bands;
  const downwards = fit.bandsPerPicture < 0 ? mirrored(fit) : fit;
  const rate = rateOf(downwards, seesDirection && Math.abs(Math.abs(fit.advance) - 0.5) > 1e-3);
  if (rate.rateHz === null) throw contradiction(facts.file, lightHz, declaredHz, mediaHz, rate);
  if ((0.5 - Math.abs(fit.advance)) * profiles.frames < NYQUIST_CYCLES && Math.abs(fit.bandsPerPicture) < 2) {
    throw cannot(
      `a light of ${lightHz} Hz only alternates from frame to frame at ${shown(guessHz)} frames a second, so that its bands do not move: use another frequency`,
    );
  }

  const warnings = [...facts.warnings, ...clock.warnings];
  const rateSd = rate.rateHz * Math.hypot(sds.advance / rate.cyclesPerFrame, lightRel);
  const readoutMs = (1000 * rate.direction * downwards.bandsPerPicture) / lightHz;
  const readoutSd = Math.hypot((1000 * sds.bands) / lightHz, readoutMs * lightRel);
  const perMs = rate.rateHz / 1000;
  if (2 * readoutSd * perMs > WIDEST_READOUT) {
    throw cannot(
      `the bands say too little about the readout (${readoutMs.toFixed(2)} ms +- ${(2 * readoutSd).toFixed(2)} ms): use a faster light (1 kHz), or film longer`,
    );
  }
  if (rate.overrules) {
    warnings.push(
      `By the light the clip was filmed at ${shown(rate.rateHz)} frames a second` +
        `${declaredHz === null ? '' : `, not ${shown(declaredHz)} as declared`}; the light is used. Check that it really flickers at ${lightHz} Hz.`,
    );
  }
  if (rate.ambiguous) {
    warnings.push(
      `At ${lightHz} Hz several capture rates near ${shown(guessHz)} give the same picture; the nearest was taken. A slower light tells them apart.`,
    );
  }
  if (rate.direction < 0) warnings.push('The rows of this picture are read from the last to the first.');
  if (profiles.clippedShare > 0.02) {
    warnings.push(`${(100 * profiles.clippedShare).toFixed(0)} % of the light is clipped white: dim it.`);
  }
  if (profiles.times.stoppedEarly) {
    warnings.push(`Only the first ${profiles.frames} frames were used; they are enough.`);
  }
  if (wander > mayWander / 4) {
    warnings.push('The phase of the light wanders a little during the clip: the light is not quite steady.');
  }
  if (2 * readoutSd > 0.03 * Math.abs(readoutMs)) {
    warnings.push(
      `The readout is known to ${((200 * readoutSd) / Math.abs(readoutMs)).toFixed(0)} % only: a faster light or a longer clip does better.`,
    );
  }
  return {
    captureRateHz: estimate(rate.rateHz, rateSd),
    readoutMs: estimate(readoutMs, readoutSd),
    readoutFraction: estimate(readoutMs * perMs, readoutSd * perMs),
    lightHz,
    lightUncertaintyRel: lightRel,
    frames: profiles.frames,
    codedRect,
    modulation: fit.modulation,
    bandsPerPicture: downwards.bandsPerPicture,
    cyclesPerFrame: rate.cyclesPerFrame,
    rates: { timestampsHz: mediaHz, tagHz: facts.captureRateTagHz, statedHz, lightHz: rate.rateHz },
    warnings,
  };
}

/** The same light told with rows counted the other way. */
function mirrored(fit: PhaseLaw): PhaseLaw {
  return { advance: -fit.advance, bandsPerPicture: -fit.bandsPerPicture };
}

function contradiction(
  file: string,
  lightHz: number,
  declaredHz: number | null,
  mediaHz: number,
  rate: { readonly nearestHz: number; readonly usualHz: readonly number[] },
): AnalysisError {
  if (rate.usualHz.length > 1 || declaredHz === null) {
    const several =
      rate.usualHz.length > 0
        ? `the light fits ${rate.usualHz.join(', ')} frames a second alike`
        : 'the light fits no usual rate';
    return new AnalysisError(
      'rate-unknown',
      `${file} plays at ${shown(mediaHz)} frames a second and ${several}: state the rate while filming with --capture-rate`,
    );
  }
  return new AnalysisError(
    'nothing-measurable',
    `${file} is declared to be filmed at ${shown(declaredHz)} frames a second, but a light of ${lightHz} Hz would mean ${shown(rate.nearestHz)}: ` +
      'check --light (mains lamps flicker at twice the mains frequency), or state --capture-rate',
  );
}

function estimate(value: number, sd: number): Estimate {
  return { value, sd, interval: [value - 1.96 * sd, value + 1.96 * sd] };
}

function shown(rateHz: number): string {
  return String(Number(rateHz.toFixed(3)));
}
