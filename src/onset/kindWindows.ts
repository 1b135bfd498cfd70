/** The frames around the changes of one kind, cut out of the light that is projected on that kind. */
import type { Trace } from '../trace/trace.js';
import type { bandsOf } from './bands.js';
import type { EdgeWindow } from './edgeWindow.js';
import type { Kind } from './kinds.js';
import { type Crossing, cutWindows, EDGE_FRAMES, type WindowReach } from './windows.js';

/** One region with the kinds of its changes. */
export interface RegionKinds {
  readonly trace: Trace;
  readonly kinds: readonly Kind[];
  /** One a kind. */
  readonly bands: readonly ReturnType<typeof bandsOf>[];
  /** Index of the kind with the most energy, -1 where nothing changes. */
  readonly main: number;
}

/** A change with its frames; null where there is no plateau to compare with. */
export interface CutEdge {
  readonly crossing: Crossing;
  readonly window: EdgeWindow | null;
}

/** Windows around all changes of one kind, in time order. */
export function kindWindows(region: RegionKinds, kind: number, reach: WindowReach): CutEdge[] {
  const { whole, parts } = region.bands[kind]!;
  const crossings = region.kinds[kind]!.members.map(({ change, sign }) => ({
    frame: sharpen(whole.signal, change.frame, sign, reach.settleFrames),
    sign,
  }));
  const windows = cutWindows(whole, parts, region.trace.periodS, crossings, {
    ...reach,
    betweenLevels: EDGE_FRAMES,
  });
  return crossings.map((crossing, i) => ({ crossing, window: windows[i]! }));
}

/** The frame at which the projected signal crosses half of its own step near a candidate. */
function sharpen(signal: Float64Array, frame: number, sign: 1 | -1, reach: number): number {
  const before = mean(signal, frame - reach - 2, frame - 2);
  const after = mean(signal, frame + 2, frame + reach + 2);
  const middle = (before + after) / 2;
  for (let k = Math.max(0, frame - reach); k <= Math.min(signal.length - 1, frame + reach); k++) {
    if (sign * (signal[k]! - middle) > 0) return k;
  }
  return frame;
}

function mean(signal: Float64Array, from: number, to: number): number {
  const first = Math.max(0, from);
  const last = Math.min(signal.length, to);
  let sum = 0;
  for (let k = first; k < last; k++) sum += signal[k]!;
  return last > first ? sum / (last - first) : 0;
}
