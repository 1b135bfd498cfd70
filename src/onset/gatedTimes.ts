/** Changes on a screen whose backlight is switched on and off: cells that settle, seen only while the light is on. */
import type { Region } from '../region/region.js';
import type { Remember } from '../remember.js';
import type { Trace } from '../trace/trace.js';
import { blurShape, contrastOf, type EdgePosterior, FORM_MISFIT, fitEdge } from './edgeFit.js';
import type { LineWeight } from './edgeShape.js';
import type { EdgeWindow } from './edgeWindow.js';
import { gapFlags } from './gapFlags.js';
import type { Gate } from './gate.js';
import { gateCrossings } from './gateCrossings.js';
import { type GatedKind, gatedWindows, unlitSpans } from './gatedWindows.js';
import { type Lattice, latticeOf, onLattice, type TimedEdge, WIDE_SPREAD } from './gateLattice.js';
import type { TimedChange } from './onset.js';
import { shapeFor, type TriedForms, tryForms } from './responseForm.js';

/** One region; the first kind settles the form of the response. */
export interface GatedCandidate {
  readonly trace: Trace;
  readonly kinds: readonly GatedKind[];
  /** Index of the kind with the most energy, -1 where nothing changes. */
  readonly main: number;
}

/** What the finder needs to know. */
export interface GatedOptions {
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

/** A change with its time, before any level. */
export interface GatedEdge extends TimedChange {
  /** What the posterior's times count from, s on the capture clock. */
  readonly originS: number;
  readonly posterior: EdgePosterior;
  /** Bands that it was seen in. */
  readonly bands: number;
}

/** Changes of one region. */
export interface GatedRegion {
  readonly region: Region;
  readonly edges: readonly GatedEdge[];
  /** Weights of the region's lines, one list a kind. */
  readonly lines: readonly (readonly LineWeight[])[];
  /** Projected signal of each kind. */
  readonly signals: readonly Float64Array[];
  /** Spans, s, in which no light was caught. */
  readonly unseenS: readonly (readonly [from: number, to: number])[];
}

/** Changes of all regions of a display behind one gate. */
export interface GatedTimes extends Pick<GatedOptions, 'strobed' | 'onePhase'> {
  readonly light: 'gated';
  readonly periodS: number;
  readonly gate: Gate;
  readonly rise: TriedForms;
  readonly fall: TriedForms;
  readonly regions: readonly GatedRegion[];
}

// Log odds from which on the changes tell that they lie on a lattice, and from which on that they do not: where rows change
// while the light is on, their times scatter about the lattice by more than each of them tells.
const CLEAR_ODDS = 3;
const CLEARLY_OFF_ODDS = 10;

/**
 * Looks at all regions of a screen through one gate.
 * @param remember may know the edges' times already.
 */
export function findGatedTimes(
  candidates: readonly GatedCandidate[],
  gate: Gate,
  options: GatedOptions,
  remember: Remember,
): GatedTimes {
  const { onePhase } = options;
  const regions = candidates.map((r) => withGateCrossings(r, gate));
  const { trace: firstTrace } = regions[0]!;
  const traces = regions.map((r) => r.trace);
  const { rise, fall, fitted } = remember(
    'gated edges',
    [firstTrace, ...traces, gate, options.windowFrames],
    () => fitGatedEdges(regions, gate, options),
  );
  const latticesOf = (spread?: number) => regions.map((r, i) => latticeIn(r, fitted[i]!, gate, spread));
  let lattices = latticesOf();
  if (options.strobed === null) {
    const wide = latticesOf(WIDE_SPREAD);
    if (oddsOf(wide) > oddsOf(lattices)) lattices = wide;
  }
  const strobed = options.strobed ?? isRefresh(lattices);
  const { periodS } = firstTrace;
  return {
    ...{ light: 'gated', periodS, gate, strobed, onePhase, rise, fall },
    regions: regions.map((region, i) => regionTimes(region, fitted[i]!, strobed ? lattices[i]! : null, gate)),
  };
}

/** @param lattice on which the changes are believed to lie; null where nothing is believed. */
function regionTimes(
  { trace, kinds }: GatedCandidate,
  fitted: readonly (readonly (FittedEdge | null)[])[],
  lattice: Lattice | null,
  gate: Gate,
): GatedRegion {
  const edges = kinds.flatMap(({ crossings }, kind) =>
    crossings.flatMap(({ frame, sign }, c): GatedEdge[] => {
      const edge = fitted[kind]![c];
      if (!edge) return [];
      const { channels, originS } = edge.window;
      const { posterior } = lattice ? onLattice(edge, lattice) : edge;
      const contrast = contrastOf(edge.window, posterior);
      const gaps = gapFlags(trace, frame);
      return [{ frame, sign, kind, originS, posterior, contrast, bands: channels.length, gaps }];
    }),
  );
  return {
    ...{ region: trace.region, edges },
    lines: kinds.map((kind) => kind.lines),
    signals: kinds.map((kind) => kind.whole.signal),
    unseenS: kinds[0] ? unlitSpans(kinds[0].whole, trace.periodS, gate) : [],
  };
}

/** The lattice that the main kind's changes lie on, if the gate opens once a refresh. */
function latticeIn(
  { main }: GatedCandidate,
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
function withGateCrossings(region: GatedCandidate, gate: Gate): GatedCandidate {
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
function fitGatedEdges(regions: readonly GatedCandidate[], gate: Gate, options: GatedOptions) {
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
        const posterior = window && fitEdge(window, sign > 0 ? rises : falls, FORM_MISFIT);
        return window && posterior
          ? { window, posterior, sign, originT: window.originS / trace.periodS }
          : null;
      }),
    );
  });
  return { rise, fall, fitted };
}
