/** Onsets on a screen whose backlight is switched on and off: cells that settle, seen only while the light is on. */
import { everyStepAnew, type Remember } from '../remember.js';
import type { Trace } from '../trace/trace.js';
import { blurShape, type EdgePosterior, fitEdge } from './edgeFit.js';
import { type EdgeShape, type LineWeight, levelTime } from './edgeShape.js';
import type { EdgeWindow } from './edgeWindow.js';
import { gapFlags } from './gapFlags.js';
import { type Gate, gateLight, gateOpenings } from './gate.js';
import { envelope, firstFlash } from './gatedAnswer.js';
import type { Onset, OnsetSet } from './onset.js';
import { formAt, type ResponseForm, SCREEN_MISFIT, shapeFor, tryForms } from './responseForm.js';
import type { Band, Crossing } from './windows.js';

/** One kind of change of one region. */
export interface GatedKind {
  readonly whole: Band;
  readonly parts: readonly Band[];
  readonly lines: readonly LineWeight[];
  /** In time order, sign 1 to more light. */
  readonly crossings: readonly Crossing[];
}

/** One region; the first kind settles the form of the response. */
export interface GatedRegion {
  readonly trace: Trace;
  readonly kinds: readonly GatedKind[];
  /** Index of the kind with the most energy, -1 where nothing changes. */
  readonly main: number;
}

/** What the finder needs to know. */
export interface GatedOptions {
  readonly level: number;
  /** Camera frames of about one refresh. */
  readonly windowFrames: number;
  readonly slopesT: readonly number[];
  /** Whether the light comes on once a refresh, so that a change is seen at the first flash that shows it. */
  readonly strobed: boolean;
}

// Frames of which less than this share of the brightest was lit do not help to place a change.
const DIM_FRAME = 0.3;
const LONGEST_REACH = 80;
// Start and length of a dimmer's pulses, tone curve and form of the cells leave this much of a level's time unknown even
// where each of them fits sharply, capture periods (simulated clips).
const DIMMED_FORM_SD = 0.05;
// Steps of less than this share of the usual one are none.
const LEAST_STEP = 0.3;

/**
 * Looks at all regions of a screen through one gate.
 * @param remember may know the edges' times already, which do not depend on the level.
 */
export function findGatedOnsets(
  regions: readonly GatedRegion[],
  gate: Gate,
  options: GatedOptions,
  remember: Remember = everyStepAnew,
): OnsetSet[] {
  const [firstRegion] = regions;
  if (!firstRegion) return [];
  const traces = regions.map((r) => r.trace);
  const edges = remember('gated edges', [firstRegion.trace, ...traces, gate, options.windowFrames], () =>
    fitGatedEdges(regions, gate, options),
  );
  const rise = formAt(edges.rise, options.level);
  const fall = formAt(edges.fall, options.level);
  return regions.map((region, i) => onsetSet(region, i, edges.fitted[i]!, { rise, fall }, gate, options));
}

/** An edge with its time, before any level. */
interface FittedEdge {
  readonly window: EdgeWindow;
  readonly posterior: EdgePosterior;
}

/** Forms and times of all edges: one a region, kind and crossing. */
function fitGatedEdges(regions: readonly GatedRegion[], gate: Gate, options: GatedOptions) {
  const windows = regions.map((r) =>
    r.kinds.map((kind) => gatedWindows(kind, r.trace.periodS, gate, options)),
  );
  const edges = (sign: 1 | -1) =>
    regions.map((r, i) => ({
      windows:
        r.main < 0
          ? []
          : windows[i]![r.main]!.filter(
              (w, c): w is EdgeWindow => w !== null && r.kinds[r.main]!.crossings[c]!.sign === sign,
            ),
      heightPx: r.trace.region.height,
    }));
  const rise = tryForms(edges(1), gate.exposure, options.slopesT, null);
  const fall = tryForms(edges(-1), gate.exposure, options.slopesT, rise.top.slopeT);
  const fitted = regions.map(({ trace, kinds }, i) => {
    const { height } = trace.region;
    const rises = blurShape(shapeFor(rise.top, height), gate.exposure);
    const falls = blurShape(shapeFor(fall.top, height), gate.exposure);
    return kinds.map(({ crossings }, k) =>
      crossings.map(({ sign }, c): FittedEdge | null => {
        const window = windows[i]![k]![c];
        const posterior = window && fitEdge(window, sign > 0 ? rises : falls, SCREEN_MISFIT);
        return window && posterior ? { window, posterior } : null;
      }),
    );
  });
  return { rise, fall, fitted };
}

function onsetSet(
  region: GatedRegion,
  index: number,
  edges: readonly (readonly (FittedEdge | null)[])[],
  forms: { readonly rise: ResponseForm; readonly fall: ResponseForm },
  gate: Gate,
  options: GatedOptions,
): OnsetSet {
  const { trace, kinds } = region;
  const rise = shapeFor(forms.rise, trace.region.height);
  const fall = shapeFor(forms.fall, trace.region.height);
  const onsets = kinds.flatMap(({ crossings, lines }, k) =>
    crossings.flatMap((crossing, c) => {
      const edge = edges[k]![c];
      if (!edge) return [];
      const shape = crossing.sign > 0 ? rise : fall;
      return [gatedOnset(trace, edge, crossing, k, shape, lines, gate, options)];
    }),
  );
  const riseTimeT = levelTime(0.9, rise) - levelTime(0.1, rise);
  return {
    region: trace.region,
    onsets: onsets.filter((o) => isStep(o, onsets)).sort((a, b) => a.levelS - b.levelS),
    shapes: { rise, fall },
    responseTimeMs: !options.strobed && forms.rise.tauT > 0.12 ? riseTimeT * trace.periodS * 1000 : null,
    shapeSdS: options.strobed
      ? Math.hypot(0.02, gate.startSdT) * trace.periodS
      : Math.hypot(forms.rise.levelSdT[index] ?? 0, gate.startSdT, DIMMED_FORM_SD) * trace.periodS,
    signals: kinds.map((kind) => kind.whole.signal),
    light: options.strobed ? 'pulsed' : 'held',
    refreshHz: options.strobed ? 1 / (gate.periodT * trace.periodS) : null,
    shutter: { fraction: gate.exposure, sd: gate.exposureSd },
    warnings: [],
  };
}

/** False where the light hardly changed, compared with the other changes of the kind: what cleaning left of the pulses. */
function isStep(onset: Onset, all: readonly Onset[]): boolean {
  const sizes = all.filter((o) => o.kind === onset.kind).map((o) => Math.abs(o.after - o.before));
  sizes.sort((a, b) => a - b);
  const usual = sizes[Math.floor(0.75 * (sizes.length - 1))]!;
  return Math.abs(onset.after - onset.before) > LEAST_STEP * usual;
}

function gatedWindows(
  kind: GatedKind,
  periodS: number,
  gate: Gate,
  { windowFrames }: GatedOptions,
): (EdgeWindow | null)[] {
  const { whole, parts, crossings } = kind;
  const frames = whole.signal.length;
  const usual = Math.ceil(1.3 * gate.periodT) + 2;
  const plateau = Math.max(8, Math.ceil(3 * gate.periodT), windowFrames);
  const lit = litFrames(whole, periodS, gate);
  const noises = parts.map((band) => plateauNoise(band, periodS, crossings, gate, windowFrames));
  return crossings.map((crossing, i) => {
    const previous = crossings[i - 1]?.frame ?? 0;
    const next = crossings[i + 1]?.frame ?? frames;
    // Where the light stayed away for long, the change may lie anywhere in the gap.
    const reach = Math.max(usual, Math.min(LONGEST_REACH, gapAround(lit, crossing.frame) + 1));
    const first = Math.max(
      0,
      crossing.frame - reach - plateau,
      previous + Math.min(2 * windowFrames, (crossing.frame - previous) >> 1),
    );
    const last = Math.min(
      frames,
      crossing.frame + reach + 2 * windowFrames + plateau,
      Math.max(next - reach, crossing.frame + 2),
    );
    if (last - first < 6 || crossing.frame - first < 2 || last - crossing.frame < 2) return null;
    const originS = whole.openS[crossing.frame]!;
    const rising = crossing.sign > 0;
    const channels = parts.map((band, b) => {
      const indices = Array.from({ length: last - first }, (_, k) => first + k);
      return {
        values: band.signal.slice(first, last),
        openT: Float64Array.from(indices, (k) => (band.openS[k]! - originS) / periodS),
        openings: indices.map((k) => gateOpenings(gate, band.openS[k]! / periodS)),
        varianceBefore: rising ? noises[b]!.low : noises[b]!.high,
        varianceAfter: rising ? noises[b]!.high : noises[b]!.low,
        from: band.from,
        extent: band.extent,
      };
    });
    return { firstFrame: first, originS, channels, reachT: reach };
  });
}

/** Frames that catch a good part of the light. */
function litFrames(band: Band, periodS: number, gate: Gate): Uint8Array {
  const light = Float64Array.from(band.openS, (s) => gateLight(gate, s / periodS, gate.exposure));
  const most = Math.min(gate.exposure, gate.duty * gate.periodT);
  return Uint8Array.from(light, (v) => (v > DIM_FRAME * most ? 1 : 0));
}

/** Frames from one to the second lit frame on the side where that is farther. */
function gapAround(lit: Uint8Array, frame: number): number {
  const to = (step: 1 | -1) => {
    let found = 0;
    let k = frame;
    while (k >= 0 && k < lit.length && found < 2) {
      k += step;
      if (lit[k]) found++;
    }
    return Math.abs(k - frame);
  };
  return Math.max(to(1), to(-1));
}

/** Variance of a frame about its plateau seen through the gate, in the darker and in the brighter state. */
function plateauNoise(
  band: Band,
  periodS: number,
  crossings: readonly Crossing[],
  gate: Gate,
  guard: number,
): { low: number; high: number } {
  const scatter = { low: [] as number[], high: [] as number[] };
  const levels = { low: [] as number[], high: [] as number[] };
  crossings.forEach((crossing, i) => {
    const next = crossings[i + 1]?.frame ?? band.signal.length;
    const from = crossing.frame + 2 * guard;
    const to = Math.min(next - guard, from + 120);
    if (to - from < 5) return;
    let gg = 0;
    let gy = 0;
    const light: number[] = [];
    for (let k = from; k < to; k++) {
      const g = gateLight(gate, band.openS[k]! / periodS, gate.exposure);
      light.push(g);
      gg += g * g;
      gy += g * band.signal[k]!;
    }
    const level = gg > 0 ? gy / gg : 0;
    let sum = 0;
    for (let k = from; k < to; k++) sum += (band.signal[k]! - level * light[k - from]!) ** 2;
    const side = crossing.sign > 0 ? 'high' : 'low';
    scatter[side].push(sum / (to - from - 1));
    levels[side].push(level * gate.duty * gate.exposure);
  });
  const middle = (values: number[]) => [...values].sort((a, b) => a - b)[values.length >> 1];
  const step = Math.abs((middle(levels.high) ?? 1) - (middle(levels.low) ?? 0));
  const floor = (0.005 * step) ** 2 + 1e-18;
  const low = middle(scatter.low) ?? middle(scatter.high) ?? floor;
  const high = middle(scatter.high) ?? low;
  return { low: low + floor, high: high + floor };
}

function gatedOnset(
  trace: Trace,
  { window, posterior }: FittedEdge,
  crossing: Crossing,
  kind: number,
  shape: EdgeShape,
  lines: readonly LineWeight[],
  gate: Gate,
  options: GatedOptions,
): Onset {
  const { periodS } = trace;
  const noise = Math.sqrt(
    window.channels.reduce((sum, c) => sum + c.varianceBefore, 0) / window.channels.length ** 2,
  );
  const contrast = Math.abs(posterior.after - posterior.before) / noise;
  const answer = options.strobed
    ? firstFlash(posterior, shape, lines, gate, window.originS / periodS, options.level)
    : envelope(posterior, shape, lines, options.level);
  const at = (t: number) => window.originS + t * periodS;
  return {
    frame: crossing.frame,
    kind,
    sign: crossing.sign,
    contrast,
    firstLightS: at(answer.firstT),
    levelS: at(answer.levelT),
    halfS: at(answer.halfT),
    settledS: at(answer.settledT),
    sdS: answer.sdT * periodS,
    excessKurtosis: answer.excessKurtosis,
    intervalS: [at(answer.intervalT[0]), at(answer.intervalT[1])],
    before: posterior.before,
    after: posterior.after,
    flags: [
      ...gapFlags(trace, crossing.frame),
      ...(contrast < 5 ? ['weak-contrast'] : []),
      ...(answer.unseen ? ['pulse-not-seen'] : []),
    ],
  };
}
