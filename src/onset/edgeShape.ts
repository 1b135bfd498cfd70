/**
 * What a camera sees of a change: the display's own response (instant, exponential, drawn line by line) averaged
 * over the exposure. All times in capture periods.
 */

/** The form of a change in linear light, averaged over a region. */
export interface EdgeShape {
  /** Time constant of an exponential approach, capture periods; 0 is instant. */
  readonly tauT: number;
  /**
   * Second exponential of twice the time constant: above 0 the light overshoots and comes back, below 0 it has a slow
   * tail. The step response is 1 - (1+a) exp(-t/tau) + a exp(-t/(2 tau)).
   */
  readonly overshoot?: number;
  /** Time over which the display draws the change across the region, capture periods; 0 at once, negative upwards. */
  readonly sweepT: number;
}

/** An edge seen through a shutter, tabulated. */
export interface BlurredEdge {
  readonly shape: EdgeShape;
  readonly exposure: number;
  /** Share of the change in a frame whose exposure opens `x` periods after first light. */
  readonly at: (x: number) => number;
  /** Frames that open before this see nothing of the change. */
  readonly startT: number;
  /** Frames that open after this see all of it (to 1e-3). */
  readonly endT: number;
}

// Below this a sweep or a time constant is the same as none, and its closed form loses its digits.
const TINY = 1e-3;

/** Step response of one line. */
function step(t: number, tau: number, a: number): number {
  if (t <= 0) return 0;
  if (tau < TINY) return 1;
  const slow = a === 0 ? 0 : a * Math.exp(-t / (2 * tau));
  return 1 - (1 + a) * Math.exp(-t / tau) + slow;
}

/** Integral of `step` from 0 to t. */
function ramp1(t: number, tau: number, a: number): number {
  if (t <= 0) return 0;
  if (tau < TINY) return t;
  const slow = a === 0 ? 0 : 2 * a * tau * (1 - Math.exp(-t / (2 * tau)));
  return t - (1 + a) * tau * (1 - Math.exp(-t / tau)) + slow;
}

/** Integral of `ramp1` from 0 to t. */
function ramp2(t: number, tau: number, a: number): number {
  if (t <= 0) return 0;
  if (tau < TINY) return (t * t) / 2;
  const fast = (1 + a) * (tau * t - tau * tau * (1 - Math.exp(-t / tau)));
  const slow = a === 0 ? 0 : a * (2 * tau * t - 4 * tau * tau * (1 - Math.exp(-t / (2 * tau))));
  return (t * t) / 2 - fast + slow;
}

/** Share of the change that has happened `t` periods after first light, without any camera. */
export function responseAt(t: number, shape: EdgeShape): number {
  const { tauT, overshoot = 0 } = shape;
  const sweepT = Math.abs(shape.sweepT);
  if (t <= 0) return 0;
  if (sweepT < TINY) return step(t, tauT, overshoot);
  return (ramp1(t, tauT, overshoot) - ramp1(t - sweepT, tauT, overshoot)) / sweepT;
}

/** Integral of `responseAt` from 0 to t. */
function responseIntegral(t: number, shape: EdgeShape): number {
  const { tauT, overshoot = 0 } = shape;
  const sweepT = Math.abs(shape.sweepT);
  if (sweepT < TINY) return ramp1(t, tauT, overshoot);
  return (ramp2(t, tauT, overshoot) - ramp2(t - sweepT, tauT, overshoot)) / sweepT;
}

/** Periods from first light until the response has passed `level` (0..1). */
export function levelTime(level: number, shape: EdgeShape): number {
  if (level <= 0) return 0;
  let low = 0;
  let high =
    Math.abs(shape.sweepT) + Math.max(1e-6, slowestTau(shape) * (2 - Math.log(Math.max(1e-9, 1 - level))));
  if (responseAt(1e-9, shape) >= level) return 0;
  for (let i = 0; i < 60; i++) {
    const middle = (low + high) / 2;
    if (responseAt(middle, shape) < level) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** How much of a change each stretch of a region carries, along the display's lines: weights add to 1. */
export interface LineWeight {
  readonly from: number;
  readonly extent: number;
  readonly weight: number;
  /** -1: the part of the change that goes the other way, darker where the rest gets brighter. Left out: 1. */
  readonly way?: -1;
}

/**
 * Periods from first light until a region's response has passed `level`, where the change is spread unevenly over the
 * region's lines (a sprite fills only part of it).
 * @param against form of the lines that go the other way.
 */
export function weightedLevelTime(
  level: number,
  shape: EdgeShape,
  lines: readonly LineWeight[],
  against = shape,
): number {
  // Made once, not in each step of the search.
  const parts = lines.map(({ from, extent, weight, way }) => {
    const own = way === -1 ? against : shape;
    const sweep = own.sweepT;
    const start = sweep >= 0 ? from * sweep : -(1 - from - extent) * sweep;
    return { start, weight, shape: { ...own, sweepT: sweep * extent } };
  });
  const total = (t: number): number => {
    let sum = 0;
    for (const part of parts) sum += part.weight * responseAt(t - part.start, part.shape);
    return sum;
  };
  let low = 0;
  let high = Math.max(...[shape, against].map((s) => Math.abs(s.sweepT) + 14 * slowestTau(s))) + 1e-6;
  for (let i = 0; i < 50; i++) {
    const middle = (low + high) / 2;
    if (total(middle) < level) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** Periods until the response is within 1e-3 of its end. */
export function settleTime(shape: EdgeShape): number {
  return Math.abs(shape.sweepT) + 7 * slowestTau(shape);
}

function slowestTau(shape: EdgeShape): number {
  return shape.overshoot ? 2 * shape.tauT : shape.tauT;
}

/**
 * Tabulates `F(x)`: mean of the response over an exposure of `exposure` periods that opens `x` periods after first
 * light (check-values 1.1: box times exponential, closed form).
 */
export function blurEdge(shape: EdgeShape, exposure: number): BlurredEdge {
  const perExposure = Math.max(8, Math.ceil(exposure * 96));
  const h = exposure / perExposure; // knots fall on x = -exposure and x = 0, where F has its corners
  const endT = Math.max(0, settleTime(shape));
  const n = perExposure + Math.max(1, Math.ceil(endT / h)) + 1;
  const table = new Float64Array(n + 1);
  for (let i = 0; i <= n; i++) {
    const x = -exposure + i * h;
    table[i] = (responseIntegral(x + exposure, shape) - responseIntegral(Math.max(0, x), shape)) / exposure;
  }
  const at = (x: number): number => {
    const position = (x + exposure) / h;
    if (position <= 0) return 0;
    if (position >= n) return 1;
    const i = Math.floor(position);
    const low = table[i]!;
    return low + (position - i) * (table[i + 1]! - low);
  };
  return { shape, exposure, at, startT: -exposure, endT };
}

/** Integral of a response over time, tabulated. */
export interface ResponseIntegral {
  /** Integral from first light to `t` periods after it. */
  readonly at: (t: number) => number;
  /** After this the response is complete (to 1e-3). */
  readonly endT: number;
}

/** Tabulates the integral of `responseAt`, capture periods. */
export function tabulateIntegral(shape: EdgeShape): ResponseIntegral {
  const endT = Math.max(0, settleTime(shape));
  const n = Math.max(1, Math.min(4000, Math.ceil(endT * 96)));
  const h = endT / n;
  const table = Float64Array.from({ length: n + 1 }, (_, i) => responseIntegral(i * h, shape));
  const last = table[n]!;
  const at = (t: number): number => {
    if (t <= 0) return 0;
    if (t >= endT) return last + t - endT;
    const position = t / h;
    const i = Math.floor(position);
    return table[i]! + (position - i) * (table[i + 1]! - table[i]!);
  };
  return { at, endT };
}
