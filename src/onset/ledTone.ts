/**
 * The bend of the camera's tone curve, from frames in which the LED was lit for a part of the exposure only: in light
 * that adds up, that part is the same in the LED's core and in its halo; a curve makes it differ, as it bends bright light
 * more than faint light. A curve that is a plain power shows nothing of itself.
 */
import { goldenSection } from '../numeric/minimise.js';
import { straightLight, straightSlope } from '../trace/toneBend.js';
import { meanLight, type Trace } from '../trace/trace.js';
import type { Onset } from './onset.js';

/** The bend of a camera's curve (see `straightLight`; 0 is the tagged curve). */
export interface ToneBend {
  readonly bend: number;
  /** Standard uncertainty. */
  readonly sd: number;
}

/** A bend that is less than this, or within three times its uncertainty, is that of the tagged curve. */
const LEAST_BEND = 0.2;
/** Frames beside an edge that belong to it, and frames after them that show the LED at rest. */
const EDGE_FRAMES = 2;
const REST_FRAMES = 8;
const LEAST_REST = 3;
/** More edges cost time and tell no more. */
const MOST_EDGES = 48;
const LEAST_EDGES = 6;
/** Steps of a cell must stand out of its noise, and frames be lit for a part that is clearly neither none nor all. */
const LEAST_STEP = 6;
const PARTLY = [0.08, 0.92] as const;
/** Cells that must differ in brightness by so much, within a row, to tell a curve. */
const LEAST_RANGE = 1.5;
/** Bends that are looked for, and from which on none is believed: no phone's curve starts so steep (judgement). */
const BENDS = [-0.6, 3] as const;
const STEEPEST_BEND = 2.7;
/**
 * Light that the LED must reach for its curve to be the screen's. Red and blue stay below it in the luma (0.06 and 0.02 of
 * white at most by the weights of ITU-R BT.709, each channel encoded first), so that what bends them is not what bends white.
 */
const LEAST_LIGHT = 0.15;
const GROUPS = 8;

/** Cells of one row of the LED in one partly lit frame: light before, after, and in it, and its noise. */
interface PartlyLit {
  readonly edge: number;
  readonly off: Float64Array;
  readonly on: Float64Array;
  readonly light: Float64Array;
  readonly noise: Float64Array;
}

/**
 * What to take out of the light, none where the curve may as well be the tagged one; its `sd` is of the bend that is left.
 * Phones lift the shadows: what reads as the opposite is the halo that a coder draws late (H.264 at CRF 23 and more).
 */
export function toneToTakeOut({ bend, sd }: ToneBend): ToneBend {
  return bend > Math.max(LEAST_BEND, 3 * sd) ? { bend, sd } : { bend: 0, sd: Math.hypot(sd, bend) };
}

/**
 * The bend that makes each row's lit part the same in all of its cells, over all edges.
 * @returns null where the LED clips or is dim in the luma, or too few edges were caught, or all cells are alike, or no
 *   curve of a camera explains them.
 */
export function ledToneBend(trace: Trace, onsets: readonly Onset[]): ToneBend | null {
  if (trace.saturated) return null;
  const rows = partlyLitRows(trace, onsets);
  const edges = [...new Set(rows.map((r) => r.edge))];
  const lightest = rows.reduce((most, { on, off }) => Math.max(most, ...on, ...off), 0);
  if (edges.length < LEAST_EDGES || lightest < LEAST_LIGHT) return null;
  const bend = bendOf(rows);
  if (bend > STEEPEST_BEND) return null;
  // The hand, the exposure and the code touch all cells of an edge together: edges count, not cells (jackknife of groups).
  const groups = Math.min(GROUPS, edges.length);
  const groupOf = new Map(edges.map((edge, i) => [edge, i % groups]));
  const others = Array.from({ length: groups }, (_, g) =>
    bendOf(rows.filter((r) => groupOf.get(r.edge) !== g)),
  );
  const mean = others.reduce((sum, b) => sum + b / groups, 0);
  const variance = ((groups - 1) / groups) * others.reduce((sum, b) => sum + (b - mean) ** 2, 0);
  return { bend, sd: Math.sqrt(variance) };
}

/** The bend that leaves least of the rows' light unexplained. */
function bendOf(rows: readonly PartlyLit[]): number {
  const left = (bend: number) => rows.reduce((sum, row) => sum + partOf(row, bend).left, 0);
  return goldenSection(left, BENDS[0], BENDS[1], 0.01).x;
}

function partlyLitRows(trace: Trace, onsets: readonly Onset[]): PartlyLit[] {
  const { cells, light, noise, frames } = trace;
  const rows = rowsOf(trace);
  const stride = Math.max(1, Math.ceil(onsets.length / MOST_EDGES));
  const out: PartlyLit[] = [];
  for (let edge = 0; edge < onsets.length; edge += stride) {
    const { frame } = onsets[edge]!;
    const before = onsets[edge - 1]?.frame ?? -REST_FRAMES;
    const after = onsets[edge + 1]?.frame ?? frames + REST_FRAMES;
    const first = frame - EDGE_FRAMES;
    const last = frame + EDGE_FRAMES + 1;
    const restFrom = Math.max(0, before + EDGE_FRAMES + 2, first - REST_FRAMES);
    const restTo = Math.min(frames, after - EDGE_FRAMES, last + 1 + REST_FRAMES);
    if (Math.min(first - restFrom, restTo - last - 1) < LEAST_REST) continue;
    const off = meanLight(trace, restFrom, first);
    const on = meanLight(trace, last + 1, restTo);
    for (let k = first + 1; k < last; k++) {
      for (const row of rows) {
        const clear = row.filter((c) => Math.abs(on[c]! - off[c]!) > LEAST_STEP * noise[c]!);
        const steps = clear.map((c) => Math.abs(on[c]! - off[c]!));
        if (clear.length < 2 || Math.max(...steps) < LEAST_RANGE * Math.min(...steps)) continue;
        const pick = (of: ArrayLike<number>, from = 0) => Float64Array.from(clear, (c) => of[from + c]!);
        const lit = { edge, off: pick(off), on: pick(on), light: pick(light, k * cells), noise: pick(noise) };
        const part = partOf(lit, 0).part;
        if (part > PARTLY[0] && part < PARTLY[1]) out.push(lit);
      }
    }
  }
  return out;
}

/** Cells that are exposed together. */
function rowsOf({ cells, openOffsetS, down }: Trace): number[][] {
  const isRolling = openOffsetS.some((s) => s !== openOffsetS[0]);
  const rows = new Map<number, number[]>();
  for (let c = 0; c < cells; c++) {
    const at = isRolling ? openOffsetS[c]! : down[c]!;
    const row = rows.get(at);
    if (row) row.push(c);
    else rows.set(at, [c]);
  }
  return [...rows.values()];
}

/** Part of the exposure for which a row was lit, and what is left of its light, in noise of the readings. */
function partOf({ off, on, light, noise }: PartlyLit, bend: number): { part: number; left: number } {
  let [gg, gy, yy] = [0, 0, 0];
  for (let i = 0; i < light.length; i++) {
    const dark = straightLight(off[i]!, bend);
    const g = straightLight(on[i]!, bend) - dark;
    const y = straightLight(light[i]!, bend) - dark;
    const w = 1 / (noise[i]! * straightSlope(light[i]!, bend)) ** 2;
    gg += w * g * g;
    gy += w * g * y;
    yy += w * y * y;
  }
  return { part: gy / gg, left: yy - (gy * gy) / gg };
}
