/** Candidate changes of a region, found without knowing what they will look like: each frame's past against its future. */
import { meanLight, type Trace } from '../trace/trace.js';

/** A change that stands out of the region's own scatter. */
export interface Change {
  /** First frame of the new state, to within a frame or two. */
  readonly frame: number;
  /** Change energy: squared step over noise, averaged over the cells. */
  readonly energy: number;
  /** Light after minus light before, one a cell. */
  readonly step: Float64Array;
}

/** How changes are looked for. */
export interface ChangeSearch {
  /** Frames averaged on each side: at least one refresh of the display, so that pulsed light evens out. */
  readonly windowFrames: number;
}

/**
 * Two-window contrast: `D_k = mean_c (after_c - before_c)^2 / noise_c^2`, its local maxima above the clip's own level.
 * @returns changes in time order.
 */
export function findChanges(trace: Trace, search: ChangeSearch): Change[] {
  const m = search.windowFrames;
  const energy = contrastCurve(trace, m);
  const threshold = significance(energy, m);
  const changes: Change[] = [];
  for (let k = m; k <= trace.frames - m; k++) {
    const e = energy[k]!;
    if (e < threshold || !isPeak(energy, k, m)) continue;
    const before = meanLight(trace, k - m, k);
    const after = meanLight(trace, k, k + m);
    changes.push({ frame: k, energy: e, step: after.map((v, c) => v - before[c]!) });
  }
  return changes;
}

function contrastCurve(trace: Trace, m: number): Float64Array {
  const { frames, cells, light, noise } = trace;
  const energy = new Float64Array(frames + 1);
  const difference = new Float64Array(cells); // sum after - sum before
  for (let k = 0; k < m; k++) {
    for (let c = 0; c < cells; c++) {
      difference[c]! += (light[(k + m) * cells + c] ?? 0) - (light[k * cells + c] ?? 0);
    }
  }
  const weight = Float64Array.from(noise, (sd) => 1 / (sd * sd * m * m * cells));
  for (let k = m; k <= frames - m; k++) {
    let sum = 0;
    for (let c = 0; c < cells; c++) sum += difference[c]! * difference[c]! * weight[c]!;
    energy[k] = sum;
    if (k === frames - m) break;
    const outgoing = (k - m) * cells;
    const crossing = k * cells;
    const incoming = (k + m) * cells;
    for (let c = 0; c < cells; c++) {
      difference[c]! += light[incoming + c]! - 2 * light[crossing + c]! + light[outgoing + c]!;
    }
  }
  return energy;
}

/** Level above which a contrast is not chance: from the clip's own distribution, and from its largest changes. */
function significance(energy: Float64Array, m: number): number {
  const sorted = Float64Array.from(energy).sort();
  const at = (p: number) => sorted[Math.floor(p * (sorted.length - 1))] ?? 0;
  const median = at(0.5);
  const spread = (at(0.5) - at(0.15)) / 1.036;
  const noise = Math.max(median + 8 * spread, (2 / m) * 2);
  return Math.max(noise, 0.02 * at(0.999));
}

function isPeak(energy: Float64Array, k: number, m: number): boolean {
  const reach = Math.max(2, m - 1);
  for (let d = 1; d <= reach; d++) {
    if ((energy[k - d] ?? 0) > energy[k]! || (energy[k + d] ?? 0) >= energy[k]!) return false;
  }
  return true;
}
