/** Changes of the screen regions: candidates, kinds, the form of the response pooled over all, then each onset. */
import { everyStepAnew, type Remember } from '../remember.js';
import type { Trace } from '../trace/trace.js';
import { bandsOf } from './bands.js';
import { findChanges } from './changes.js';
import { blurShape, type EdgePosterior, fitEdge } from './edgeFit.js';
import { type EdgeShape, type LineWeight, levelTime, weightedLevelTime } from './edgeShape.js';
import type { EdgeWindow } from './edgeWindow.js';
import { gapFlags } from './gapFlags.js';
import { findGatedOnsets } from './gatedOnsets.js';
import { mainForm, ownForms, strongKinds } from './kindForms.js';
import { groupKinds, type Kind, pruneKinds, settleKinds, steadyChanges, untimedKinds } from './kinds.js';
import { type CutEdge, kindWindows, type RegionKinds } from './kindWindows.js';
import { meetsOnePhase } from './onePhase.js';
import { type Onset, type OnsetSet, UNSEEN } from './onset.js';
import { findPulsedLight, type PulsedLight, refreshFrames } from './pulsedLight.js';
import { findPulsedOnsets, type PulsedCandidate } from './pulsedOnsets.js';
import { formAt, type ResponseForm, SCREEN_MISFIT, shapeFor, type TriedForms } from './responseForm.js';
import { FLICKERING, rippleShiftT } from './ripple.js';
import type { Crossing, WindowReach } from './windows.js';
import { withoutBeat, withoutSteady } from './withoutBeat.js';

/** What is known about camera and display. */
export interface ScreenOptions {
  readonly exposureFraction: number;
  /** Standard uncertainty of it. */
  readonly exposureSd: number;
  readonly refreshHz: number | null;
  /** Response level of the headline onset, 0..1. */
  readonly level: number;
  /** Height of the upright picture, px. */
  readonly pictureHeightPx: number;
}

// Pulses that cut the light by more than this share leave frames that say nothing.
const DEEP = 0.5;

// A rhythm this near to the frames' own (cycles a frame) hardly moves against them within a clip.
const SAME_PHASE = 5e-4;
// A picture that changes in other ways than its main one for this part of its changes has more than two states, if the
// main one leads on and not to and fro: what cleaning leaves of a beam makes kinds of a picture with two states as well.
const LEAST_ELSEWHERE = 0.5;
const ONE_WAY = 0.8;

/**
 * Finds every change of all screen regions of one display together: they share its response and its scanout.
 * @param remember may know some steps already. What comes before the response level does not depend on it, so that
 *   another level costs next to nothing.
 */
export function findScreenOnsets(
  traces: readonly Trace[],
  options: ScreenOptions,
  remember: Remember = everyStepAnew,
): OnsetSet[] {
  const [firstTrace] = traces;
  if (!firstTrace) return [];
  const { periodS } = firstTrace;
  const { level, ...known } = options;
  const beforeLevel = Object.values(known);
  const refreshT = 1 / ((options.refreshHz ?? 60) * periodS);
  const windowFrames = refreshFrames(options.refreshHz, periodS);
  const plateauFrames = Math.min(40, Math.max(6, Math.round(0.04 / periodS)));
  const slopes = slopesToTry(refreshT, options.pictureHeightPx);
  const slopeLimit = slopes[slopes.length - 1]!;
  const light = remember('pulsed light', [firstTrace, ...traces, ...beforeLevel], () =>
    findPulsedLight(traces, { ...options, slopesT: slopes }, remember),
  );
  const longestT = (trace: Trace) => slopeLimit * trace.region.height;
  const work = traces.map((trace, i) => {
    const inputs = [light?.beats[i], light?.source.kind, windowFrames, longestT(trace)] as const;
    return remember('region', [trace, ...inputs], () =>
      regionWork(trace, i, light, windowFrames, longestT(trace)),
    );
  });
  if (light && light.source.kind !== 'unknown') {
    const { source } = light;
    if (source.kind === 'gate') {
      const regions = work.map(({ trace, kinds, bands, main }) => ({
        trace,
        kinds: bands.map((b, k) => ({ ...b, crossings: crossingsOf(kinds[k]!) })),
        main,
      }));
      const { gate, strobed } = source;
      const onePhase = options.refreshHz !== null && meetsOnePhase(refreshT, firstTrace.frames);
      const gated = { level, windowFrames, slopesT: slopes, strobed, onePhase };
      return findGatedOnsets(regions, gate, gated, remember);
    }
    return work.map((w) => {
      const sets = findPulsedOnsets(pulsedCandidates(w), source.train, source.rival, { level, windowFrames });
      const [main] = sets;
      if (!main) return nothingIn(w);
      const onsets = sets.flatMap((set) => set.onsets).sort((a, b) => a.levelS - b.levelS);
      return { ...main, onsets };
    });
  }
  const first = { plateauFrames, settleFrames: windowFrames };
  const pool = (sign: 1 | -1, fixedSlope: number | null) => {
    const step = sign > 0 ? 'form of rises' : 'form of falls';
    const tried = remember(step, [work[0]!, ...work, ...beforeLevel, fixedSlope], () =>
      mainForm(work, sign, first, options.exposureFraction, slopes, fixedSlope),
    );
    return formAt(tried, level);
  };
  const rise = pool(1, null);
  const fall = pool(-1, rise.slopeT);
  const settleT = Math.max(...[rise, fall].map((f) => (f.overshoot === 0 ? 7 : 14) * f.tauT));
  const settleFrames = Math.max(2, Math.min(4 * windowFrames, Math.ceil(settleT * 0.75)));
  // Deep pulses without a rule: a change may hide for as long as the light stays away.
  const hiddenFrames = light?.beats.some((b) => b && b.depth > DEEP) ? windowFrames : 0;
  const sets = work.map((region, r) =>
    hideIn(
      regionOnsets(region, { rise, fall }, r, { plateauFrames, settleFrames }, options, remember),
      hiddenFrames,
      periodS,
    ),
  );
  return looksSteady(options.refreshHz, periodS)
    ? sets.map((set) => maybePulsed(set, periodS, options.exposureFraction))
    : sets;
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

/** Whether pulses once a refresh, if there are any, would come at the same phase of each frame. */
function looksSteady(refreshHz: number | null, periodS: number): boolean {
  if (refreshHz === null) return false;
  const perFrame = refreshHz * periodS;
  return perFrame > 0.5 && Math.abs(perFrame - Math.round(perFrame)) < SAME_PHASE;
}

/**
 * Light that looks steady and may come in pulses: the first that shows a change may lie anywhere in its exposure, where a
 * steady light's change came as early as the middle of the closed time before it.
 */
function maybePulsed(set: OnsetSet, periodS: number, exposureFraction: number): OnsetSet {
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

/** Onsets whose light may have stayed away for some frames around them. */
function hideIn(set: OnsetSet, frames: number, periodS: number): OnsetSet {
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

function nothingIn({ trace, bands }: RegionKinds): OnsetSet {
  const shape = { tauT: 0, sweepT: 0 };
  return {
    region: trace.region,
    onsets: [],
    shapes: { rise: shape, fall: shape },
    responseTimeMs: null,
    shapeSdS: 0,
    signals: bands.map((b) => b.whole.signal),
    light: 'held',
    refreshHz: null,
    warnings: [],
  };
}

/**
 * Scan slopes worth trying: the display may show anything from all of the picture's height to a small part of it, and
 * draw it in most of a refresh; or change at once; or upwards.
 */
function slopesToTry(refreshT: number, pictureHeightPx: number): number[] {
  const full = (0.95 * refreshT) / pictureHeightPx;
  return [-1.4, 0, 1.1, 1.6, 2.3].map((factor) => factor * full);
}

function regionOnsets(
  region: RegionKinds,
  forms: { rise: ResponseForm; fall: ResponseForm },
  index: number,
  reach: WindowReach,
  options: ScreenOptions,
  remember: Remember,
): OnsetSet {
  const { trace, bands } = region;
  const height = trace.region.height;
  const rise = shapeFor(forms.rise, height);
  const fall = shapeFor(forms.fall, height);
  const { exposureFraction } = options;
  const inputs = [JSON.stringify([rise, fall, reach]), exposureFraction] as const;
  const edges = remember('edges', [region, ...inputs], () =>
    fitEdges(region, forms, reach, exposureFraction),
  );
  const onsets = edges.map((edge) => onsetAt(trace, edge, bands[edge.kind]!.lines, options.level));
  onsets.sort((a, b) => a.levelS - b.levelS);
  const riseTimeT = levelTime(0.9, rise) - levelTime(0.1, rise);
  return {
    ...nothingIn(region),
    onsets,
    shapes: { rise, fall },
    responseTimeMs: forms.rise.tauT > 0.12 ? riseTimeT * trace.periodS * 1000 : null,
    shapeSdS: (forms.rise.levelSdT[index] ?? 0) * trace.periodS,
  };
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

/** An edge with its time, before any level. */
interface FittedEdge extends CutEdge {
  readonly window: EdgeWindow;
  readonly kind: number;
  readonly shape: EdgeShape;
  /** Of the part of the region that goes the other way. */
  readonly against: EdgeShape;
  /** What is unknown of the form of this edge's kind beyond the region's own. */
  readonly form: TriedForms | null;
  readonly posterior: EdgePosterior;
}

function fitEdges(
  region: RegionKinds,
  forms: { readonly rise: ResponseForm; readonly fall: ResponseForm },
  reach: WindowReach,
  exposureFraction: number,
): FittedEdge[] {
  const { height } = region.trace.region;
  const common = { rise: shapeFor(forms.rise, height), fall: shapeFor(forms.fall, height) };
  const blurred = {
    rise: blurShape(common.rise, exposureFraction, common.fall),
    fall: blurShape(common.fall, exposureFraction, common.rise),
  };
  return region.kinds.flatMap((_, kind) => {
    const edges = kindWindows(region, kind, reach);
    const own = kind === region.main ? null : ownForms(region, kind, edges, forms, exposureFraction);
    return edges.flatMap(({ crossing, window }) => {
      const side = crossing.sign > 0 ? 'rise' : 'fall';
      const form = own?.[side] ?? null;
      const shape = form ? blurShape(shapeFor(form.top, height), exposureFraction) : blurred[side];
      const posterior = window && fitEdge(window, shape, SCREEN_MISFIT);
      const against = shape.against?.shape ?? shape.shape;
      return window && posterior
        ? [{ crossing, window, kind, shape: shape.shape, against, form, posterior }]
        : [];
    });
  });
}

function onsetAt(
  trace: Trace,
  { window, crossing, kind, posterior, shape, against, form }: FittedEdge,
  lines: readonly LineWeight[],
  responseLevel: number,
): Onset {
  const at = (t: number) => window.originS + t * trace.periodS;
  const passes = (level: number) => weightedLevelTime(level, shape, lines, against);
  const level = passes(responseLevel);
  const noise = Math.sqrt(
    window.channels.reduce((sum, c) => sum + c.varianceBefore, 0) / window.channels.length ** 2,
  );
  const step = Math.abs(posterior.after - posterior.before);
  const contrast = step / noise;
  // Ripple is said as well as counted.
  const rippleT = rippleShiftT(window, step);
  const flickers = rippleT !== null;
  const formT = form ? formAt(form, responseLevel).levelSdT[0]! : 0;
  const sdT = Math.hypot(posterior.sdT, rippleT ?? 0, formT);
  return {
    frame: crossing.frame,
    kind,
    sign: crossing.sign,
    contrast,
    firstLightS: at(posterior.meanT),
    levelS: at(posterior.meanT + level),
    halfS: at(posterior.meanT + passes(0.5)),
    settledS: at(posterior.meanT + passes(0.9)),
    sdS: sdT * trace.periodS,
    excessKurtosis: flickers ? 0 : posterior.excessKurtosis,
    intervalS: [
      at(posterior.intervalT[0] + level - 1.96 * formT),
      at(posterior.intervalT[1] + level + 1.96 * formT),
    ],
    before: posterior.before,
    after: posterior.after,
    flags: [
      ...gapFlags(trace, crossing.frame),
      ...(contrast < 5 ? ['weak-contrast'] : []),
      ...(flickers ? [FLICKERING] : []),
    ],
  };
}
