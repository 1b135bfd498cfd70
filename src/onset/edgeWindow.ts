/** The frames around an edge, as every fit of an edge takes them. */

/** Part of a region (a band of rows) as one signal; a small region is one channel. */
export interface EdgeChannel {
  /** Projected light, one a frame of the window. */
  readonly values: Float64Array;
  /** Start of exposure of the band's rows, capture periods from the window's origin; ascending. */
  readonly openT: Float64Array;
  /** Noise variance of a frame on the plateau before and after. */
  readonly varianceBefore: number;
  readonly varianceAfter: number;
  /** Error of lossy coding on the plateaus, relative to the step, which the variances hold already; left out: none. */
  readonly codingSd?: number;
  /** -1: of a change that makes some of a region brighter and some darker, the part that goes the other way. Left out: 1. */
  readonly way?: -1;
  /** Where the band begins and how much of the region it covers, along the display's lines, 0..1. */
  readonly from: number;
  readonly extent: number;
  /**
   * Where the light itself is switched on and off: stretches of each frame's exposure in which it is on, pairs of times
   * after the exposure begins, capture periods. Left out: always on.
   */
  readonly openings?: readonly Float64Array[];
}

/** The frames around one edge. */
export interface EdgeWindow {
  /** Index of the first frame of the window in the clip. */
  readonly firstFrame: number;
  /** Start of exposure of the frame that first shows more than half of the change, s on the capture clock. */
  readonly originS: number;
  readonly channels: readonly EdgeChannel[];
  /** How far first light may lie from the origin where frames say nothing for long, capture periods; default 0.7. */
  readonly reachT?: number;
}

/** Likelihood of first light at a time, with the most likely plateaus there. */
export interface Likelihood {
  readonly at: (t: number) => number;
  readonly plateaus: (t: number) => readonly [number, number];
}
