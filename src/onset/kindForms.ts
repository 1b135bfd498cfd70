/**
 * Forms of the response by kind of change. A panel gets brighter and darker at different speeds, and a kind that moves some
 * pixels up and others down has a form of its own: that of the commonest kind holds for the others as far as their edges
 * do not say otherwise.
 */
import type { EdgeWindow } from './edgeWindow.js';
import { type CutEdge, kindWindows, type RegionKinds } from './kindWindows.js';
import { type FormParts, type TriedForms, tryForms } from './responseForm.js';
import { rippleShiftT } from './ripple.js';
import type { WindowReach } from './windows.js';

// Changes of less than this share of the main kind's usual energy are too weak to have a form of their own.
const LEAST_ENERGY = 0.05;
// Log evidence by which a kind's own form must beat the common one.
const CLEARLY_OWN = 8;
// Plateaus long enough to show a ripple.
const RIPPLE_REACH: WindowReach = { plateauFrames: 20, settleFrames: 6 };

/**
 * The form of all regions' main kinds for one sign. Where these never change that way (each item of a menu lights in a
 * way of its own), of the other kinds that do; where none does, of nothing.
 */
export function mainForm(
  work: readonly RegionKinds[],
  sign: 1 | -1,
  reach: WindowReach,
  exposureFraction: number,
  slopesT: readonly number[],
  fixedSlopeT: number | null,
): TriedForms {
  const of = (isAsked: (region: RegionKinds, kind: number) => boolean) =>
    work.map((region) => ({
      windows: region.kinds.flatMap((_, k) =>
        isAsked(region, k) ? partsOf(kindWindows(region, k, reach), sign) : [],
      ),
      heightPx: region.trace.region.height,
    }));
  // Items of a menu get brighter and darker alike, whichever they are.
  const main = of(
    (region, kind) =>
      kind === region.main ||
      (energyShare(region, kind) > LEAST_ENERGY && isTwoWay(region, region.main) && isTwoWay(region, kind)),
  );
  const hasAny = main.some((m) => m.windows.length > 0);
  const edges = hasAny ? main : of((region, kind) => energyShare(region, kind) > LEAST_ENERGY);
  return tryForms(edges, exposureFraction, slopesT, fixedSlopeT);
}

/** Forms of one kind that is not the main one; null where the common form explains its edges about as well. */
export function ownForms(
  region: RegionKinds,
  kind: number,
  edges: readonly CutEdge[],
  common: { readonly rise: FormParts; readonly fall: FormParts },
  exposureFraction: number,
): { readonly rise: TriedForms | null; readonly fall: TriedForms | null } {
  // What makes such a kind unlike the others is in the common form already.
  const isCommon = isTwoWay(region, kind) || energyShare(region, kind) < LEAST_ENERGY;
  if (isCommon || isRippling(region)) return { rise: null, fall: null };
  const own = (sign: 1 | -1, form: FormParts): TriedForms | null => {
    const windows = partsOf(edges, sign);
    if (windows.length === 0) return null;
    const heightPx = region.trace.region.height;
    const tried = tryForms([{ windows, heightPx }], exposureFraction, [], form.slopeT, [form]);
    const asCommon = tried.tried.find((t) => t.tauT === form.tauT && t.overshoot === form.overshoot);
    return tried.top.log - (asCommon?.log ?? tried.top.log) > CLEARLY_OWN ? tried : null;
  };
  return { rise: own(1, common.rise), fall: own(-1, common.fall) };
}

/** Kinds, by their index, that are about as strong as the main one. */
export function strongKinds(region: RegionKinds): number[] {
  return [...region.kinds.keys()].filter((kind) => energyShare(region, kind) > LEAST_ENERGY);
}

/** Whether a kind makes a part of the region brighter and another one darker. */
function isTwoWay({ bands }: RegionKinds, kind: number): boolean {
  return bands[kind]!.parts.some((part) => part.way === -1);
}

/** Windows of the bands that get brighter (sign 1) or darker, whichever way their kind goes. */
function partsOf(edges: readonly CutEdge[], sign: 1 | -1): EdgeWindow[] {
  return edges.flatMap(({ crossing, window }) => {
    const channels = window?.channels.filter((c) => (c.way ?? 1) * crossing.sign === sign) ?? [];
    return window && channels.length > 0 ? [{ ...window, channels }] : [];
  });
}

/** Whether most changes of the main kind ripple: every edge is then bent in a way of its own. */
function isRippling(region: RegionKinds): boolean {
  const windows = kindWindows(region, region.main, RIPPLE_REACH).flatMap(({ window }) => window ?? []);
  const rippling = windows.filter((w) => rippleShiftT(w, stepOf(w)) !== null);
  return rippling.length > windows.length / 2;
}

/** Size of a window's step, mean of its bands. */
function stepOf({ channels }: EdgeWindow): number {
  const steps = channels.map(({ values }) => values[values.length - 1]! - values[0]!);
  return Math.abs(steps.reduce((sum, s) => sum + s, 0)) / steps.length;
}

/** Mean energy of a kind's changes over that of the main kind's. */
function energyShare({ kinds, main }: RegionKinds, kind: number): number {
  const mean = (k: number) =>
    kinds[k]!.members.reduce((sum, m) => sum + m.change.energy / kinds[k]!.members.length, 0);
  return main < 0 ? 0 : mean(kind) / mean(main);
}
