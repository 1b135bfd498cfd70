/** When a trace changed: the type of an onset, and what a region's onsets have in common. */
import type { Region } from '../region/region.js';
import type { EdgeShape } from './edgeShape.js';

/** Flag of a change, or of a press without one, that lies among pulses of the screen that no frame caught. */
export const UNSEEN = 'pulse-not-seen';

/** Flag of a change that is the only one of its kind in a clip. */
export const ONLY_ONE = 'odd-response';

/** One change of one region. Times in s on the capture clock from the first frame's timestamp. */
export interface Onset {
  /** First camera frame that clearly shows the change; a label, not a time. */
  readonly frame: number;
  /** Which kind of change: onsets of one kind move the light along the same direction. */
  readonly kind: number;
  /** 1 along the kind's direction, -1 back. */
  readonly sign: 1 | -1;
  /** Size of the step over the noise of one frame. */
  readonly contrast: number;
  readonly firstLightS: number;
  /** At the asked response level (10 % unless the recipe says otherwise). */
  readonly levelS: number;
  readonly halfS: number;
  /** 90 %. */
  readonly settledS: number;
  /** Standard uncertainty of `levelS` from light alone, s. */
  readonly sdS: number;
  /** Excess kurtosis of the posterior: 0 normal, -1.2 uniform (closed shutter), -2 two spikes. */
  readonly excessKurtosis: number;
  /** 95 % interval of `levelS` from light alone, s. */
  readonly intervalS: readonly [number, number];
  /** Plateaus of the kind's projected signal around this edge. */
  readonly before: number;
  readonly after: number;
  readonly flags: readonly string[];
}

/** A change before any response level is asked for: what an onset takes over from it. */
export interface TimedChange extends Pick<Onset, 'frame' | 'kind' | 'sign' | 'contrast'> {
  /** Flags of a dropped frame beside it. */
  readonly gaps: readonly string[];
}

/** All onsets of one region. */
export interface OnsetSet {
  readonly region: Region;
  readonly onsets: readonly Onset[];
  /** Form of the changes with sign 1 and -1. */
  readonly shapes: { readonly rise: EdgeShape; readonly fall: EdgeShape };
  /** 10-90 % time, ms, of sign 1; null where it is below what the camera resolves. */
  readonly responseTimeMs: number | null;
  /** Standard uncertainty of `levelS` that all onsets share (form of the response), s. */
  readonly shapeSdS: number;
  /** Projected signal of each kind, one value a frame, for drawing. */
  readonly signals: readonly Float64Array[];
  /** `pulsed`: tube or strobed backlight, measured by its envelope; `held`: everything else. */
  readonly light: 'held' | 'pulsed';
  /** Refresh rate read off the pulses, Hz; null for held light. */
  readonly refreshHz: number | null;
  /** Exposure fraction that the pulses show, with its standard uncertainty; left out for light without pulses. */
  readonly shutter?: { readonly fraction: number; readonly sd: number };
  /** Spans, s, in which no pulse of the screen was caught, so that a change there is not seen; left out for held light. */
  readonly unseenS?: readonly (readonly [from: number, to: number])[];
  readonly warnings: readonly string[];
}

/** A region in which nothing changes. */
export function noOnsets(region: Region, signals: readonly Float64Array[]): OnsetSet {
  const shape = { tauT: 0, sweepT: 0 };
  return {
    ...{ region, signals, onsets: [], shapes: { rise: shape, fall: shape } },
    ...{ responseTimeMs: null, shapeSdS: 0, light: 'held', refreshHz: null, warnings: [] },
  };
}
