/** A region's signal along the direction of a kind of change, whole and in bands of rows: the bands are a vernier. */
import { project, stretchOf, type Trace } from '../trace/trace.js';
import type { LineWeight } from './edgeShape.js';
import { type Kind, projector } from './kinds.js';
import type { Band } from './windows.js';

const MOST_BANDS = 8;
const SWEEP_PER_BAND_T = 0.25;
// A band of fewer rows of cells than this says nothing that its neighbour does not.
const LEAST_ROWS = 2;
// A part of a change that goes the other way and holds less than this share of it bends nothing.
const LEAST_OTHER_WAY = 0.1;

/**
 * The whole region and its bands, top to bottom; one band where the region is small.
 * @param longestSweepT longest time that a display of this picture may take to draw across the region, capture periods.
 * @param byWay whether cells that get darker where others get brighter (a menu, a sprite) have bands of their own: a
 *   panel is not as fast one way as the other.
 */
export function bandsOf(
  trace: Trace,
  kind: Kind,
  longestSweepT: number,
  byWay: boolean,
): { whole: Band; parts: Band[]; lines: LineWeight[] } {
  const direction = projector(kind, trace.noise);
  const whole: Band = { signal: project(trace, direction), openS: trace.openS, from: 0, extent: 1 };
  const share = shareOfOtherWay(kind, direction);
  const ways =
    byWay && share > LEAST_OTHER_WAY && share < 1 - LEAST_OTHER_WAY ? ([1, -1] as const) : ([null] as const);
  const lines = ofWhole(ways.flatMap((way) => lineWeights(trace, kind, way)));
  const rows = new Set(trace.down).size;
  // Bands that a sweep crosses in much less than a frame would only repeat each other.
  const wanted = Math.ceil(longestSweepT / SWEEP_PER_BAND_T);
  const count = Math.max(1, Math.min(MOST_BANDS, wanted, Math.floor(rows / LEAST_ROWS)));
  if (count * ways.length < 2) return { whole, parts: [whole], lines };
  const parts: Band[] = [];
  const asked = Array.from({ length: count }, (_, b) => ways.map((way) => ({ b, way }))).flat();
  for (const { b, way } of asked) {
    const inside = (c: number) =>
      trace.down[c]! >= b / count &&
      trace.down[c]! < (b + 1) / count &&
      (way === null || kind.direction[c]! * way > 0);
    const own = direction.map((d, c) => (inside(c) ? d : 0));
    // Scaled so that the kind's mean step reads 1 in every band.
    let step = 0;
    const members: number[] = [];
    for (let c = 0; c < own.length; c++) {
      if (!inside(c)) continue;
      step += (own[c]! * kind.direction[c]!) / kind.members.length;
      members.push(c);
    }
    // A band that hardly takes part in the change would only add noise.
    if (members.length === 0 || step < 0.25 / asked.length) continue;
    const { shiftS, ...stretch } = changedStretch(trace, kind, members);
    parts.push({
      signal: project(
        trace,
        own.map((d) => d / step),
      ),
      openS: trace.openS.map((t) => t + shiftS),
      ...stretch,
      ...(way === -1 ? { way } : {}),
    });
  }
  return { whole, parts: parts.length >= 2 ? parts : [whole], lines };
}

/**
 * The stretch of a band that changes, as the even one with the same middle and spread: rows beside a sprite do not sweep.
 * And by how much its rows' exposure starts after the frame's.
 */
function changedStretch(
  trace: Trace,
  { direction }: Kind,
  members: readonly number[],
): { readonly from: number; readonly extent: number; readonly shiftS: number } {
  let total = 0;
  let middle = 0;
  let shiftS = 0;
  for (const c of members) {
    const weight = direction[c]! ** 2;
    total += weight;
    middle += weight * trace.down[c]!;
    shiftS += weight * trace.openOffsetS[c]!;
  }
  middle /= total;
  let variance = 0;
  for (const c of members) {
    const own = (trace.down[c]! - middle) ** 2 + trace.tall[c]! ** 2 / 12;
    variance += (direction[c]! ** 2 * own) / total;
  }
  const extent = Math.sqrt(12 * variance);
  return { from: middle - extent / 2, extent, shiftS: shiftS / total };
}

/** Share (0..1) of a kind's projected step that its cells of negative direction carry. */
function shareOfOtherWay(kind: Kind, direction: Float64Array): number {
  let all = 0;
  let other = 0;
  for (let c = 0; c < direction.length; c++) {
    const step = direction[c]! * kind.direction[c]!;
    all += step;
    if (kind.direction[c]! < 0) other += step;
  }
  return all > 0 ? other / all : 0;
}

/** Weights scaled so that their sum is 1. */
function ofWhole(lines: readonly LineWeight[]): LineWeight[] {
  const total = lines.reduce((sum, line) => sum + line.weight, 0);
  return lines.map((line) => ({ ...line, weight: line.weight / total }));
}

/** Square of the change that each row of cells shows; of cells that go one way only where one is asked. */
function lineWeights(trace: Trace, { direction }: Kind, way: 1 | -1 | null): LineWeight[] {
  const byRow = new Map<number, { cell: number; weight: number }>();
  for (let c = 0; c < direction.length; c++) {
    if (way !== null && !(direction[c]! * way > 0)) continue;
    const change = (trace.standsFor?.[c] ?? 1) * direction[c]! ** 2;
    const weight = (byRow.get(trace.down[c]!)?.weight ?? 0) + change;
    byRow.set(trace.down[c]!, { cell: c, weight });
  }
  const rows = [...byRow].sort((a, b) => a[0] - b[0]);
  return rows.map(([, { cell, weight }]) => ({
    ...stretchOf(trace, [cell]),
    weight,
    ...(way === -1 ? { way } : {}),
  }));
}
