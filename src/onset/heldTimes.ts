/** Changes of light that is held from one refresh to the next: the form of the response pooled over all, then each edge. */
import type { Region } from '../region/region.js';
import type { Remember } from '../remember.js';
import { blurShape, contrastOf, EDGE_MISFIT, type EdgePosterior, fitEdge } from './edgeFit.js';
import type { EdgeShape, LineWeight } from './edgeShape.js';
import type { EdgeWindow } from './edgeWindow.js';
import { gapFlags } from './gapFlags.js';
import { type InStep, judgeInStep, PARTLY, type SeenEdge } from './inStep.js';
import { mainForm, ownForms } from './kindForms.js';
import { kindWindows, type RegionKinds } from './kindWindows.js';
import type { TimedChange } from './onset.js';
import { shapeFor, type TriedForms } from './responseForm.js';
import { rippleShiftT, unrestOf } from './ripple.js';
import type { WindowReach } from './windows.js';

/** A change with its time, before any level. */
export interface HeldEdge extends TimedChange, SeenEdge {
  /** What the posterior's times count from, s on the capture clock. */
  readonly originS: number;
  readonly posterior: EdgePosterior;
  readonly shape: EdgeShape;
  /** Of the part of the region that goes the other way. */
  readonly against: EdgeShape;
  /** What is unknown of the form of this edge's kind beyond the region's own. */
  readonly form: TriedForms | null;
  /** How far ripple may move it, capture periods; null where the plateaus are still. */
  readonly rippleT: number | null;
}

/** Changes of one region. */
export interface HeldRegion {
  readonly region: Region;
  readonly edges: readonly HeldEdge[];
  /** Weights of the region's lines, one list a kind. */
  readonly lines: readonly (readonly LineWeight[])[];
  /** Projected signal of each kind. */
  readonly signals: readonly Float64Array[];
}

/** Changes of all regions of a display whose light is held. */
export interface HeldTimes {
  readonly light: 'held';
  readonly periodS: number;
  readonly exposureFraction: number;
  readonly rise: TriedForms;
  readonly fall: TriedForms;
  readonly regions: readonly HeldRegion[];
  /** Frames for which the light may have stayed away; 0 for light without pulses. */
  readonly hiddenFrames: number;
  /** Whether the light may come in pulses all the same, in step with the frames; null where it hardly does. */
  readonly inStep: InStep | null;
}

/** What is known about camera and display. */
export interface HeldOptions extends Pick<HeldTimes, 'exposureFraction' | 'hiddenFrames'> {
  /** Whether pulses once a refresh, if there are any, would look steady; null where it is not stated, and they may. */
  readonly steady: boolean | null;
  readonly exposureSd: number;
  readonly refreshHz: number | null;
  readonly pictureHeightPx: number;
  /** Camera frames of about one refresh. */
  readonly windowFrames: number;
  readonly slopesT: readonly number[];
}

/**
 * Pools the form of all regions' changes, then times each of them.
 * @param remember may know some steps already.
 */
export function findHeldTimes(
  work: readonly RegionKinds[],
  options: HeldOptions,
  remember: Remember,
): HeldTimes {
  const { exposureFraction, exposureSd, refreshHz, pictureHeightPx, windowFrames, slopesT } = options;
  const { hiddenFrames, steady } = options;
  const { periodS } = work[0]!.trace;
  const plateauFrames = Math.min(40, Math.max(6, Math.round(0.04 / periodS)));
  const first = { plateauFrames, settleFrames: windowFrames };
  const known = [exposureFraction, exposureSd, refreshHz, pictureHeightPx] as const;
  const pool = (sign: 1 | -1, fixedSlope: number | null) =>
    remember(sign > 0 ? 'form of rises' : 'form of falls', [work[0]!, ...work, ...known, fixedSlope], () =>
      mainForm(work, sign, first, exposureFraction, slopesT, fixedSlope),
    );
  const rise = pool(1, null);
  const fall = pool(-1, rise.top.slopeT);
  const settleT = Math.max(...[rise.top, fall.top].map((f) => (f.overshoot === 0 ? 7 : 14) * f.tauT));
  const settleFrames = Math.max(2, Math.min(4 * windowFrames, Math.ceil(settleT * 0.75)));
  const reach = { plateauFrames, settleFrames };
  const regions = work.map((region): HeldRegion => {
    const { height } = region.trace.region;
    const shapes = [shapeFor(rise.top, height), shapeFor(fall.top, height)];
    const inputs = [JSON.stringify([...shapes, reach]), exposureFraction] as const;
    return {
      region: region.trace.region,
      edges: remember('edges', [region, ...inputs], () =>
        fitEdges(region, { rise, fall }, reach, exposureFraction),
      ),
      lines: region.bands.map((b) => b.lines),
      signals: region.bands.map((b) => b.whole.signal),
    };
  });
  const edges = regions.flatMap((region) => region.edges);
  const inStep = steady === false ? null : judgeInStep(edges, exposureFraction, steady === true);
  return { light: 'held', periodS, exposureFraction, rise, fall, regions, hiddenFrames, inStep };
}

function fitEdges(
  region: RegionKinds,
  { rise, fall }: Pick<HeldTimes, 'rise' | 'fall'>,
  reach: WindowReach,
  exposureFraction: number,
): HeldEdge[] {
  const { height } = region.trace.region;
  const forms = { rise: rise.top, fall: fall.top };
  const common = { rise: shapeFor(forms.rise, height), fall: shapeFor(forms.fall, height) };
  const blurred = {
    rise: blurShape(common.rise, exposureFraction, common.fall),
    fall: blurShape(common.fall, exposureFraction, common.rise),
  };
  return region.kinds.flatMap((_, kind) => {
    const edges = kindWindows(region, kind, reach);
    const own = kind === region.main ? null : ownForms(region, kind, edges, forms, exposureFraction);
    return edges.flatMap(({ crossing: { frame, sign }, window }): HeldEdge[] => {
      const side = sign > 0 ? 'rise' : 'fall';
      const form = own?.[side] ?? null;
      const shape = form ? blurShape(shapeFor(form.top, height), exposureFraction) : blurred[side];
      const posterior = window && fitEdge(window, shape, EDGE_MISFIT);
      if (!window || !posterior) return [];
      const { originS } = window;
      const step = Math.abs(posterior.after - posterior.before);
      return [
        {
          ...{ frame, sign, kind, originS, posterior, form },
          shape: shape.shape,
          against: shape.against?.shape ?? shape.shape,
          contrast: contrastOf(window, posterior),
          ...seenEdge(window, posterior, region.trace.periodS),
          rippleT: rippleShiftT(window, step, unrestOf(window, shape.shape, posterior)),
          gaps: gapFlags(region.trace, frame),
        },
      ];
    });
  });
}

// Frames around the one that first shows most of a change, which an instant one lights partly.
const NEAREST_T = 1.5;

/** Of the region's bands the middle one counts: a beam draws a part of them in one frame and the rest in the next. */
function seenEdge(
  { channels, originS }: EdgeWindow,
  { before, after }: EdgePosterior,
  periodS: number,
): SeenEdge {
  const step = after - before;
  const partly = channels.map(({ values, openT }) => {
    const near = values.filter((_, k) => Math.abs(openT[k]!) < NEAREST_T);
    return Math.max(...near.map((v) => Math.min(Math.abs(v - before), Math.abs(v - after)))) / Math.abs(step);
  });
  const firstT = channels.map(
    ({ values, openT }) =>
      openT.find((t, k) => t > -NEAREST_T && (values[k]! - before) / step > PARTLY) ?? openT[0]!,
  );
  return { partlyLit: median(partly), firstLitS: originS + median(firstT) * periodS };
}

function median(values: number[]): number {
  return values.sort((a, b) => a - b)[values.length >> 1]!;
}
