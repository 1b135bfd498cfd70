/** The form of a display's response, pooled over all edges of all regions of one screen. */
import { blurShape, FORM_MISFIT, fitEdge } from './edgeFit.js';
import { type EdgeShape, levelTime } from './edgeShape.js';
import type { EdgeWindow } from './edgeWindow.js';

/** Edges of one region, with how long a sweep over the whole picture takes to cross it. */
export interface FormEdges {
  readonly windows: readonly EdgeWindow[];
  /** Region height, px upright: the sweep over a region is the display's slope times this. */
  readonly heightPx: number;
}

/** What the edges share. */
export interface ResponseForm {
  /** Exponential time constant, capture periods. */
  readonly tauT: number;
  /** Overshoot (above 0) or slow tail (below 0), see `EdgeShape`. */
  readonly overshoot: number;
  /** Time the display takes from one upright pixel row to the next, capture periods; negative is upwards. */
  readonly slopeT: number;
  /** Standard uncertainty of the level's time that all edges share, capture periods; one a region. */
  readonly levelSdT: readonly number[];
}

const TAUS = [0, 0.2, 0.5, 1.1, 2.4, 5];
const OVERSHOOT_STEP = 0.15;
const OVERSHOOT_RANGE = [-0.6, 0.6] as const;
// At most so many edges of a region settle the form; more cost time and add little.
const EDGES_PER_REGION = 10;
// An edge that a form explains worse than another one does by more than this (log evidence) counts less and less: false
// edges, such as of a moving hand, fit no form, and would settle it by thousands.
const BELIEVED_LOG = 30;
// What an edge is worth to a form under which it cannot be placed at all.
const IMPOSSIBLE_LOG = -1e4;

/** What a shape follows from. */
export type FormParts = Pick<ResponseForm, 'tauT' | 'overshoot' | 'slopeT'>;

/** Shape of one region under a form. */
export function shapeFor(form: FormParts, heightPx: number): EdgeShape {
  return { tauT: form.tauT, overshoot: form.overshoot, sweepT: form.slopeT * heightPx };
}

/** All forms that were tried on some edges; a level's time follows from them. */
export interface TriedForms {
  readonly top: TriedForm;
  readonly tried: readonly TriedForm[];
  /** Heights of the regions, px. */
  readonly heightsPx: readonly number[];
}

interface TriedForm extends FormParts {
  readonly log: number;
  /** Mean first light of each region's edges, capture periods. */
  readonly meansT: readonly number[];
}

/** A form before its edges' evidence is pooled. */
interface LoggedForm extends FormParts {
  /** Log evidence of each edge. */
  readonly logs: readonly number[];
  readonly meansT: readonly number[];
}

/**
 * Finds time constant and scan slope by the evidence of all edges (onset and plateaus integrated out).
 * @param slopesT slopes to try first, capture periods a pixel.
 * @param fixedSlopeT where the slope is known from other edges, only the time constant is looked for.
 * @param alsoTried forms to compare with, such as another kind's.
 */
export function tryForms(
  regions: readonly FormEdges[],
  exposure: number,
  slopesT: readonly number[],
  fixedSlopeT: number | null = null,
  alsoTried: readonly FormParts[] = [],
): TriedForms {
  const used = regions.map((r) => ({ ...r, windows: spread(r.windows, EDGES_PER_REGION) }));
  const tried: LoggedForm[] = [];
  const evidence = (candidate: FormParts): void => {
    const { tauT, slopeT, overshoot } = candidate;
    if (tried.some((t) => t.tauT === tauT && t.slopeT === slopeT && t.overshoot === overshoot)) return;
    const logs: number[] = [];
    const meansT = used.map((region) => {
      const shape = shapeFor(candidate, region.heightPx);
      const blurred = blurShape(shape, exposure);
      let mean = 0;
      for (const window of region.windows) {
        const posterior = fitEdge(window, blurred, FORM_MISFIT, 48);
        logs.push(posterior?.logEvidence ?? IMPOSSIBLE_LOG);
        mean += (posterior?.meanT ?? 0) / region.windows.length;
      }
      return mean;
    });
    tried.push({ tauT, overshoot, slopeT, logs, meansT });
  };
  const slopes = fixedSlopeT === null ? slopesT : [fixedSlopeT];
  for (const { tauT, overshoot, slopeT } of alsoTried) evidence({ tauT, overshoot, slopeT });
  for (const slopeT of slopes) for (const tauT of TAUS) evidence({ tauT, slopeT, overshoot: 0 });
  const best = () => pooled(tried).reduce((a, b) => (b.log > a.log ? b : a));
  const slopeStep = fixedSlopeT === null && slopes.length > 1 ? Math.abs(slopes[2]! - slopes[1]!) : 0;
  for (const scale of [0.6, 0.35, 0.2, 0.1, 0.05]) {
    const { tauT } = best();
    const step = scale * Math.max(tauT * 0.6, 0.15);
    evidence({ ...best(), tauT: Math.max(0, tauT - step) });
    evidence({ ...best(), tauT: tauT + step });
    if (slopeStep > 0) {
      const { slopeT } = best();
      evidence({ ...best(), slopeT: slopeT - scale * slopeStep });
      evidence({ ...best(), slopeT: slopeT + scale * slopeStep });
    }
    // An overshoot and a shorter time constant look alike, so both move together as well.
    if (best().tauT > 0.1) {
      const { overshoot, tauT: now } = best();
      const change = scale * OVERSHOOT_STEP * 2;
      for (const next of [overshoot - change, overshoot + change]) {
        if (next < OVERSHOOT_RANGE[0] || next > OVERSHOOT_RANGE[1]) continue;
        evidence({ ...best(), overshoot: next, tauT: now });
        evidence({ ...best(), overshoot: next, tauT: now * (1 + 0.8 * (next - overshoot)) });
      }
    }
  }
  return { top: best(), tried: pooled(tried), heightsPx: regions.map((r) => r.heightPx) };
}

/** Forms with the evidence of all edges, each against the form that explains it best. */
function pooled(tried: readonly LoggedForm[]): TriedForm[] {
  const most = tried.reduce<readonly number[]>(
    (top, { logs }) => logs.map((log, i) => Math.max(log, top[i] ?? log)),
    [],
  );
  return tried.map(({ logs, ...form }) => {
    const losses = logs.map((log, i) => BELIEVED_LOG * Math.log1p((most[i]! - log) / BELIEVED_LOG));
    return { ...form, log: -losses.reduce((a, b) => a + b, 0) };
  });
}

/** The form of the response, with how well the time of a level is known under it. */
export function formAt({ top, tried, heightsPx }: TriedForms, level: number): ResponseForm {
  const levels = tried.map((t) =>
    heightsPx.map((height, r) => t.meansT[r]! + levelTime(level, shapeFor(t, height))),
  );
  const weights = tried.map((t) => Math.exp(t.log - top.log));
  const total = weights.reduce((a, b) => a + b, 0);
  const levelSdT = heightsPx.map((_, r) => {
    const mean = levels.reduce((sum, l, i) => sum + weights[i]! * l[r]!, 0) / total;
    return Math.sqrt(levels.reduce((sum, l, i) => sum + weights[i]! * (l[r]! - mean) ** 2, 0) / total);
  });
  return { tauT: top.tauT, overshoot: top.overshoot, slopeT: top.slopeT, levelSdT };
}

/** At most `n` items, spread over the list. */
function spread<T>(items: readonly T[], n: number): readonly T[] {
  if (items.length <= n) return items;
  return Array.from({ length: n }, (_, i) => items[Math.floor((i * items.length) / n)]!);
}
