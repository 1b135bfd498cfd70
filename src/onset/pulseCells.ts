/**
 * What a change on a tube looks like cell by cell: the energy of a pulse in the bright picture less that in the dim one.
 * Frames alone would weigh rows by how much of their light the shutter happened to let through.
 */
import { stretchOf, type Trace } from '../trace/trace.js';
import type { LineWeight } from './edgeShape.js';
import { bandStart, pulseTable } from './pulseForm.js';
import { allPulses, type StateSpan } from './pulseStates.js';
import type { PulseTrain } from './pulseTrain.js';
import type { Band } from './windows.js';

const MOST_BANDS = 8;
const LEAST_ROWS = 2;
// A row whose pulses were caught by less than this share of the best row's says nothing about its cells.
const LEAST_CAUGHT = 0.01;
// A band with less than this part of its fair share of the change would only add noise.
const LEAST_SHARE = 0.25;
// A row at the edge of the change that carries less than this of its neighbour is only partly covered by it.
const PARTLY = 0.9;
const NOTHING = 0.03;

/** The signal of a change in bands of rows, a step of 1 in each, and how the change is spread over the lines. */
export interface PulseBandSet {
  readonly parts: readonly Band[];
  readonly lines: readonly LineWeight[];
}

/**
 * The bands of a region for one kind of change, from frames that are surely of the dim or of the bright picture.
 * @returns null where the spans show no difference.
 */
export function pulseBandSet(
  trace: Trace,
  train: PulseTrain,
  spans: { readonly dim: readonly StateSpan[]; readonly bright: readonly StateSpan[] },
): PulseBandSet | null {
  const { cells, light, periodS } = trace;
  const { y: topPx, height: heightPx } = trace.region;
  const downs = [...new Set(trace.down)].sort((a, b) => a - b);
  const rows = downs.length;
  const rowOf = Array.from(trace.down, (d) => downs.indexOf(d));
  const stretches = downs.map((_, r) => stretchOf(trace, [rowOf.indexOf(r)]));
  const tallest = Math.max(...stretches.map((s) => s.extent));
  const come = pulseTable(Math.abs(train.slopeT) * heightPx * tallest, train.decayT);
  const offsetT = stretches.map((stretch, r) => {
    const first = bandStart(train.slopeT, { topPx, heightPx }, stretch);
    return train.phaseT + first - trace.openOffsetS[rowOf.indexOf(r)]! / periodS;
  });
  const energies = (states: readonly StateSpan[]) => {
    const gy = new Float64Array(cells);
    const gg = new Float64Array(rows);
    const g = new Float64Array(rows);
    for (const [from, to] of states) {
      for (let k = from; k < to; k++) {
        const openT = trace.openS[k]! / periodS;
        for (let r = 0; r < rows; r++) {
          g[r] = allPulses(openT - offsetT[r]!, train, come);
          gg[r]! += g[r]! * g[r]!;
        }
        for (let c = 0; c < cells; c++) gy[c]! += g[rowOf[c]!]! * light[k * cells + c]!;
      }
    }
    const least = LEAST_CAUGHT * Math.max(...gg);
    return {
      seen: Array.from(gg, (v) => v > least),
      energy: gy.map((v, c) => v / Math.max(gg[rowOf[c]!]!, 1e-12)),
    };
  };
  const bright = energies(spans.bright);
  const dim = energies(spans.dim);
  const seen = bright.seen.map((s, r) => s && dim.seen[r]!);
  const step = bright.energy.map((e, c) => (seen[rowOf[c]!] ? e - dim.energy[c]! : 0));
  const rowWeight = new Float64Array(rows);
  step.forEach((d, c) => {
    rowWeight[rowOf[c]!]! += (trace.standsFor?.[c] ?? 1) * d * d;
  });
  const total = step.reduce((sum, d) => sum + d * d, 0);
  if (!(total > 0)) return null;
  const parts = bandsOfRows(trace, step, rowOf, rows, total);
  return parts.length === 0 ? null : { parts, lines: lineWeights(rowWeight, seen, stretches) };
}

function bandsOfRows(
  trace: Trace,
  step: Float64Array,
  rowOf: readonly number[],
  rows: number,
  total: number,
): Band[] {
  const { cells, light, frames } = trace;
  const count = Math.max(1, Math.min(MOST_BANDS, Math.floor(rows / LEAST_ROWS)));
  const bandOf = rowOf.map((r) => Math.floor((r * count) / rows));
  return Array.from({ length: count }, (_, b): Band | null => {
    const members = rowOf.flatMap((_r, c) => (bandOf[c] === b ? [c] : []));
    const size = members.reduce((sum, c) => sum + step[c]! ** 2, 0);
    if (size < (LEAST_SHARE * total) / count) return null;
    const signal = new Float64Array(frames);
    for (let k = 0; k < frames; k++) {
      for (const c of members) signal[k]! += (step[c]! * light[k * cells + c]!) / size;
    }
    const shift = members.reduce((sum, c) => sum + trace.openOffsetS[c]! / members.length, 0);
    return { signal, openS: trace.openS.map((t) => t + shift), ...stretchOf(trace, members) };
  }).filter((band) => band !== null);
}

/** Weights of the rows; rows that were never caught take their neighbours' place, rows at the edge are cut to size. */
function lineWeights(
  rowWeight: Float64Array,
  seen: readonly boolean[],
  stretches: readonly { readonly from: number; readonly extent: number }[],
): LineWeight[] {
  const rows = rowWeight.length;
  const nearest = (r: number, direction: 1 | -1) => {
    let i = r;
    while (i >= 0 && i < rows && !seen[i]) i += direction;
    return rowWeight[i];
  };
  const filled = Array.from(rowWeight, (w, r) => {
    if (seen[r]) return w;
    const sides = [nearest(r, -1), nearest(r, 1)].filter((v) => v !== undefined);
    return sides.reduce((a, b) => a + b, 0) / Math.max(1, sides.length);
  });
  const most = Math.max(...filled);
  const kept = filled.map((w) => (w > NOTHING * most ? w : 0));
  const total = kept.reduce((a, b) => a + b, 0);
  return kept.map((w, r) => {
    const { from, extent } = stretches[r]!;
    const weight = w / total;
    const above = kept[r - 1] ?? 0;
    const below = kept[r + 1] ?? 0;
    if (above === 0 && below > 0 && w < PARTLY * below) {
      const covered = (extent * w) / below;
      return { from: from + extent - covered, extent: covered, weight };
    }
    if (below === 0 && above > 0 && w < PARTLY * above) return { from, extent: (extent * w) / above, weight };
    return { from, extent, weight };
  });
}
