/**
 * When the screen regions began to change, before any response level is asked for: candidates, kinds, what the light is
 * like, then the changes of each. Plain data, so that it can be kept: another level costs next to nothing.
 */
import { everyStepAnew, type Remember } from '../remember.js';
import type { Trace } from '../trace/trace.js';
import { bandsOf } from './bands.js';
import { UNSTATED_REFRESH_HZ } from './beatRates.js';
import { findChanges } from './changes.js';
import { findGatedTimes, type GatedTimes } from './gatedTimes.js';
import { findHeldTimes, type HeldTimes } from './heldTimes.js';
import { strongKinds } from './kindForms.js';
import { groupKinds, type Kind, pruneKinds, settleKinds, steadyChanges, untimedKinds } from './kinds.js';
import type { RegionKinds } from './kindWindows.js';
import { meetsOnePhase } from './onePhase.js';
import type { OnsetSet } from './onset.js';
import { findPulsedLight, type PulsedLight, refreshFrames } from './pulsedLight.js';
import { type PulsedCandidate, type PulsedTimes, pulsedKindTimes } from './pulsedTimes.js';
import type { Crossing } from './windows.js';
import { withoutBeat, withoutSteady } from './withoutBeat.js';

/** What is known about camera and display. */
export interface ScreenOptions {
  readonly exposureFraction: number;
  /** Standard uncertainty of it. */
  readonly exposureSd: number;
  readonly refreshHz: number | null;
  /** Height of the upright picture, px. */
  readonly pictureHeightPx: number;
}

/** Changes of all screen regions of one display, by what its light is like. */
export type ScreenTimes = HeldTimes | GatedTimes | PulsedTimes;

/** Exposure fraction that pulses show, with its standard uncertainty. */
export type ShutterSeen = NonNullable<OnsetSet['shutter']>;

// Pulses that cut the light by more than this share leave frames that say nothing.
const DEEP = 0.5;

// A rhythm this near to the frames' own (cycles a frame) hardly moves against them within a clip.
const SAME_PHASE = 5e-4;
// No display refreshes faster than this by much (common practice, no source).
const FASTEST_REFRESH_HZ = 250;
// A picture that changes in other ways than its main one for this part of its changes has more than two states, if the
// main one leads on and not to and fro: what cleaning leaves of a beam makes kinds of a picture with two states as well.
const LEAST_ELSEWHERE = 0.5;
const ONE_WAY = 0.8;

/**
 * Finds every change of all screen regions of one display together: they share its response and its scanout.
 * @param remember may know some steps already.
 * @returns null where there are no regions.
 */
export function findScreenTimes(
  traces: readonly Trace[],
  options: ScreenOptions,
  remember: Remember = everyStepAnew,
): ScreenTimes | null {
  const [firstTrace] = traces;
  if (!firstTrace) return null;
  const inputs = [firstTrace, ...traces, ...Object.values(options)] as const;
  return remember('screen times', inputs, () => timesOf(firstTrace, traces, options, remember));
}

/** What the pulses of each region show of the camera's shutter; none of light that is held. */
export function shuttersSeen(times: ScreenTimes | null): ShutterSeen[] {
  if (times === null || times.light === 'held') return [];
  if (times.light === 'gated') {
    const { exposure, exposureSd } = times.gate;
    return times.regions.map(() => ({ fraction: exposure, sd: exposureSd }));
  }
  return times.regions.flatMap(({ kinds }) => {
    const train = kinds[0]?.trains[0]?.train;
    return train ? [{ fraction: train.exposure, sd: train.exposureSd }] : [];
  });
}

function timesOf(
  firstTrace: Trace,
  traces: readonly Trace[],
  options: ScreenOptions,
  remember: Remember,
): ScreenTimes {
  const { periodS } = firstTrace;
  const known = Object.values(options);
  const refreshT = 1 / ((options.refreshHz ?? UNSTATED_REFRESH_HZ) * periodS);
  const windowFrames = refreshFrames(options.refreshHz, periodS);
  const slopes = slopesToTry(refreshT, options.pictureHeightPx);
  const slopeLimit = slopes[slopes.length - 1]!;
  const light = remember('pulsed light', [firstTrace, ...traces, ...known], () =>
    findPulsedLight(traces, { ...options, slopesT: slopes }, remember),
  );
  const longestT = (trace: Trace) => slopeLimit * trace.region.height;
  const work = traces.map((trace, i) => {
    const inputs = [light?.beats[i], light?.source.kind, windowFrames, longestT(trace)] as const;
    return remember('region', [trace, ...inputs], () =>
      regionWork(trace, i, light, windowFrames, longestT(trace)),
    );
  });
  if (light?.source.kind === 'gate') {
    const { gate, strobed } = light.source;
    const regions = work.map(({ trace, kinds, bands, main }) => ({
      trace,
      kinds: bands.map((b, k) => ({ ...b, crossings: crossingsOf(kinds[k]!) })),
      main,
    }));
    const onePhase = options.refreshHz !== null && meetsOnePhase(refreshT, firstTrace.frames);
    return findGatedTimes(regions, gate, { windowFrames, slopesT: slopes, strobed, onePhase }, remember);
  }
  if (light?.source.kind === 'train') {
    const { train, rival } = light.source;
    const trains = rival ? [train, rival] : [train];
    const regions = work.map((region) => ({
      region: region.trace.region,
      signals: region.bands.map((b) => b.whole.signal),
      kinds: pulsedCandidates(region).map((c) => pulsedKindTimes(c, trains, { windowFrames })),
    }));
    return { light: 'pulsed', periodS, regions };
  }
  const steady = looksSteady(options.refreshHz, periodS);
  // Deep pulses without a rule: a change may hide for as long as the light stays away.
  const hiddenFrames = light?.beats.some((b) => b && b.depth > DEEP) ? windowFrames : 0;
  return findHeldTimes(work, { ...options, windowFrames, slopesT: slopes, hiddenFrames, steady }, remember);
}

/**
 * Candidates and kinds of one region. Where the light pulses they are looked for with the pulses taken out; what is
 * timed afterwards is the light as the camera saw it, or, of pulses without a rule, what is left without them.
 */
function regionWork(
  trace: Trace,
  index: number,
  light: PulsedLight | null,
  windowFrames: number,
  longestSweepT: number,
): RegionKinds {
  const beat = light?.beats[index] ?? null;
  const clean = beat ? withoutBeat(trace, beat) : trace;
  const changes = findChanges(clean, { windowFrames });
  // Rows that pulses light less are quieter, and would decide alone which items of a menu are alike.
  const noise = beat?.isOfPictures ? clean.noise.map(() => 1) : clean.noise;
  const found = groupKinds(beat ? steadyChanges(clean, changes, windowFrames) : changes, noise);
  const settled = settleKinds(clean, found, windowFrames);
  const kinds = beat ? untimedKinds(pruneKinds(settled, windowFrames)) : settled;
  let timed = clean;
  if (beat && light?.source.kind !== 'unknown') timed = { ...withoutSteady(trace, beat), noise: clean.noise };
  return {
    trace: timed,
    kinds,
    bands: kinds.map((kind) => bandsOf(timed, kind, longestSweepT, beat === null)),
    main: mainKind(kinds),
  };
}

/** Whether pulses once a refresh, if there are any, would come at the same phase of each frame; null where they may. */
function looksSteady(refreshHz: number | null, periodS: number): boolean | null {
  if (refreshHz === null) return 1 / periodS > FASTEST_REFRESH_HZ ? false : null;
  const perFrame = refreshHz * periodS;
  return perFrame > 0.5 && Math.abs(perFrame - Math.round(perFrame)) < SAME_PHASE;
}

/** A region's main kind of change, and where its picture has more than two states those of its other kinds. */
function pulsedCandidates({ trace, kinds, bands, main }: RegionKinds): PulsedCandidate[] {
  if (main < 0) return [];
  const own = kinds[main]!.members.length;
  const strong = strongKinds({ trace, kinds, bands, main }).filter((k) => k !== main);
  const elsewhere = strong.reduce((sum, k) => sum + kinds[k]!.members.length, 0);
  const forwards = kinds[main]!.members.reduce((sum, { sign }) => sum + sign, 0);
  const isMenu = elsewhere >= own * LEAST_ELSEWHERE && Math.abs(forwards) >= ONE_WAY * own;
  const asked = isMenu ? [main, ...strong] : [main];
  return asked.map((kind) => ({
    trace,
    bands: bands[kind]!,
    crossings: crossingsOf(kinds[kind]!),
    others: asked.flatMap((k) => (k === kind ? [] : crossingsOf(kinds[k]!))),
    kind,
    signals: bands.map((b) => b.whole.signal),
  }));
}

function crossingsOf(kind: Kind): Crossing[] {
  return kind.members.map(({ change, sign }) => ({ frame: change.frame, sign }));
}

/**
 * Scan slopes worth trying: the display may show anything from all of the picture's height to a small part of it, and
 * draw it in most of a refresh; or change at once; or upwards.
 */
function slopesToTry(refreshT: number, pictureHeightPx: number): number[] {
  const full = (0.95 * refreshT) / pictureHeightPx;
  return [-1.4, 0, 1.1, 1.6, 2.3].map((factor) => factor * full);
}

/** The kind with the most energy over all its members. */
function mainKind(kinds: readonly Kind[]): number {
  let best = -1;
  let bestEnergy = 0;
  kinds.forEach((kind, i) => {
    const energy = kind.members.reduce((sum, m) => sum + m.change.energy, 0);
    if (energy > bestEnergy) {
      bestEnergy = energy;
      best = i;
    }
  });
  return best;
}
