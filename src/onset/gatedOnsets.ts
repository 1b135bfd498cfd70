/** Onsets on a screen whose backlight is switched on and off: cells that settle, seen only while the light is on. */
import { everyStepAnew, type Remember } from '../remember.js';
import type { Trace } from '../trace/trace.js';
import { blurShape, type EdgePosterior, fitEdge } from './edgeFit.js';
import { type EdgeShape, type LineWeight, levelTime } from './edgeShape.js';
import type { EdgeWindow } from './edgeWindow.js';
import { gapFlags } from './gapFlags.js';
import type { Gate } from './gate.js';
import { gateCrossings } from './gateCrossings.js';
import { envelope, firstFlash, halfway } from './gatedAnswer.js';
import { type GatedKind, gatedWindows, unlitSpans } from './gatedWindows.js';
import { type Lattice, latticeOf, onLattice, type TimedEdge, WIDE_SPREAD } from './gateLattice.js';
import { type Onset, type OnsetSet, UNSEEN } from './onset.js';
import { formAt, type ResponseForm, SCREEN_MISFIT, shapeFor, tryForms } from './responseForm.js';
import { FLICKERING } from './ripple.js';
import type { Crossing } from './windows.js';

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
  /**
   * Whether the light comes on once a refresh, so that a change is seen at the first flash that shows it; null where the
   * changes are to tell.
   */
  readonly strobed: boolean | null;
  /** Whether all changes come at one phase of the frames. */
  readonly onePhase: boolean;
}

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
// Log odds from which on the changes tell that they lie on a lattice, and from which on that they do not: where rows change
// while the light is on, their times scatter about the lattice by more than each of them tells.
const CLEAR_ODDS = 3;
const CLEARLY_OFF_ODDS = 10;
// Steps of less than this share of the usual one are none.
const LEAST_STEP = 0.3;

/**
 * Looks at all regions of a screen through one gate.
 * @param remember may know the edges' times already, which do not depend on the level.
 */
export function findGatedOnsets(
  candidates: readonly GatedRegion[],
  gate: Gate,
  options: GatedOptions,
  remember: Remember = everyStepAnew,
): OnsetSet[] {
  const regions = candidates.map((r) => withGateCrossings(r, gate));
  const [firstRegion] = regions;
  if (!firstRegion) return [];
  const traces = regions.map((r) => r.trace);
  const edges = remember('gated edges', [firstRegion.trace, ...traces, gate, options.windowFrames], () =>
    fitGatedEdges(regions, gate, options),
  );
  const rise = formAt(edges.rise, options.level);
  const fall = formAt(edges.fall, options.level);
  const latticesOf = (spread?: number) => regions.map((r, i) => latticeIn(r, edges.fitted[i]!, gate, spread));
  let lattices = latticesOf();
  if (options.strobed === null) {
    const wide = latticesOf(WIDE_SPREAD);
    if (oddsOf(wide) > oddsOf(lattices)) lattices = wide;
  }
  const strobed = options.strobed ?? isRefresh(lattices);
  return regions.map((region, i) => {
    const own = strobed
      ? edges.fitted[i]!.map((kind) => kind.map((e) => e && onLattice(e, lattices[i]!)))
      : edges.fitted[i]!;
    return onsetSet(region, i, own, { rise, fall }, gate, { ...options, strobed });
  });
}

/** The lattice that the main kind's changes lie on, if the gate opens once a refresh. */
function latticeIn(
  { main }: GatedRegion,
  fitted: readonly (readonly (FittedEdge | null)[])[],
  gate: Gate,
  spread?: number,
): Lattice {
  return latticeOf(
    (fitted[main] ?? []).filter((e) => e !== null),
    gate.periodT,
    spread,
  );
}

function oddsOf(lattices: readonly Lattice[]): number {
  return lattices.reduce((sum, l) => sum + l.odds, 0);
}

/** Whether the changes come at one phase of the gate's rhythm; null where they do not tell. */
function isRefresh(lattices: readonly Lattice[]): boolean | null {
  const odds = oddsOf(lattices);
  if (odds > CLEAR_ODDS) return true;
  return odds < -CLEARLY_OFF_ODDS ? false : null;
}

/** A region whose main kind's changes were found again, with the gate known. */
function withGateCrossings(region: GatedRegion, gate: Gate): GatedRegion {
  const main = region.kinds[region.main];
  const crossings = main && gateCrossings(main.parts, gate, region.trace.periodS);
  if (!crossings) return region;
  return { ...region, kinds: region.kinds.map((kind) => (kind === main ? { ...kind, crossings } : kind)) };
}

/** An edge with its time, before any level. */
interface FittedEdge extends TimedEdge {
  readonly window: EdgeWindow;
  readonly posterior: EdgePosterior;
}

/** Forms and times of all edges: one a region, kind and crossing. */
function fitGatedEdges(regions: readonly GatedRegion[], gate: Gate, options: GatedOptions) {
  const windows = regions.map((r) =>
    r.kinds.map((kind) => gatedWindows(kind, r.trace.periodS, gate, options.windowFrames)),
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
        return window && posterior
          ? { window, posterior, sign, originT: window.originS / trace.periodS }
          : null;
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
      : dimmedFormSdT(forms.rise.levelSdT[index] ?? 0, gate, options) * trace.periodS,
    signals: kinds.map((kind) => kind.whole.signal),
    light: options.strobed ? 'pulsed' : 'held',
    refreshHz: options.strobed ? 1 / (gate.periodT * trace.periodS) : null,
    shutter: { fraction: gate.exposure, sd: gate.exposureSd },
    unseenS: kinds[0] ? unlitSpans(kinds[0].whole, trace.periodS, gate) : [],
    warnings: options.strobed === null ? [undecided(trace, gate)] : [],
  };
}

function undecided({ region, periodS }: Trace, gate: Gate): string {
  const hz = (1 / (gate.periodT * periodS)).toFixed(2);
  return `The light of region "${region.name}" goes off and on ${hz} times a second, which may be the display's refresh or a dimmer: each answer lies between what either would say, and is flagged. State the display's refresh rate.`;
}

function dimmedFormSdT(levelSdT: number, gate: Gate, { onePhase }: GatedOptions): number {
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
  const flash = () => firstFlash(posterior, shape, lines, gate, window.originS / periodS, options.level);
  const settled = () => envelope(posterior, shape, lines, options.level);
  const { strobed } = options;
  const answer = strobed === null ? halfway(settled(), flash()) : strobed ? flash() : settled();
  // What is left of a dimmer's pulses comes and goes with them, which noise would not; flashes are counted.
  const ripple = Math.sqrt(window.channels.length) / contrast;
  const hidesT = strobed === false && ripple > RIPPLE ? 2 * ripple : 0;
  const isOpen = !answer.unseen && (strobed === null || (strobed === true && answer.sdT > MOST_OPEN_T));
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
    sdS: Math.hypot(answer.sdT, hidesT) * periodS,
    excessKurtosis: hidesT > answer.sdT ? 0 : answer.excessKurtosis,
    intervalS: [at(answer.intervalT[0] - 1.96 * hidesT), at(answer.intervalT[1] + 1.96 * hidesT)],
    before: posterior.before,
    after: posterior.after,
    flags: [
      ...gapFlags(trace, crossing.frame),
      ...(contrast < 5 ? ['weak-contrast'] : []),
      ...(hidesT > 0 || isOpen ? [FLICKERING] : []),
      ...(answer.unseen || contrast > MOST_CONTRAST ? [UNSEEN] : []),
    ],
  };
}
