/**
 * When, inside a frame: the posterior of an edge's time given the light of the frames around it.
 * Least squares is the wrong tool while the shutter is closed part of the time (check-values 1.3, 1.4): the posterior
 * with a uniform prior on the onset is used instead, with both plateaus marginalised.
 */
import { PARTLY_LIT_CODING } from './codingError.js';
import {
  type BlurredEdge,
  blurEdge,
  type EdgeShape,
  levelTime,
  type ResponseIntegral,
  tabulateIntegral,
  weightedLevelTime,
} from './edgeShape.js';
import type { EdgeChannel, EdgeWindow, Likelihood } from './edgeWindow.js';
import { gatedLikelihood } from './gatedLikelihood.js';

/** What the frames say about an edge. Times in capture periods from the window's origin, of first light. */
export interface EdgePosterior {
  readonly meanT: number;
  readonly sdT: number;
  /** Fourth moment over squared variance less 3: 0 normal, -1.2 uniform. */
  readonly excessKurtosis: number;
  /** Equal-tailed 95 % interval. */
  readonly intervalT: readonly [number, number];
  /** Log of the marginal likelihood (onset and plateaus integrated out), for choosing exposure and shape. */
  readonly logEvidence: number;
  /** Plateaus at the most probable onset. */
  readonly before: number;
  readonly after: number;
  readonly mapT: number;
  /** The posterior itself: weight (not scaled) of first light at `lowT + i * stepT`. */
  readonly grid: { readonly lowT: number; readonly stepT: number; readonly weights: Float64Array };
}

/**
 * What the model does not know of a partly lit frame, standard, over the step: while forms are compared, and where light that
 * is switched on and off lights it.
 */
export const FORM_MISFIT = 0.03;
/** The same of one edge of held light with the form that was found: the tone curve counts by itself. */
export const EDGE_MISFIT = 0.012;

/** Size of a fitted step over the noise of one frame. */
export function contrastOf({ channels }: EdgeWindow, { before, after }: EdgePosterior): number {
  const noise = Math.sqrt(channels.reduce((sum, c) => sum + c.varianceBefore, 0) / channels.length ** 2);
  return Math.abs(after - before) / noise;
}

// Enough that a peak lies within a step of the best coarse point, whatever its width.
const COARSE_PER_PERIOD = 16;
// Parts of the coarse grid this far (in log likelihood) below the best cannot matter.
const KEEP_WITHIN = 22;

/**
 * Posterior of first light in the region.
 * @param shape the region's own response as a whole; each band sees its part of the sweep.
 * @param misfit extra relative sd (of the step) granted to partly lit frames, for what the model does not know.
 * @param finePoints resolution of the second grid; 400 for results, fewer while shapes are compared.
 */
export function fitEdge(
  window: EdgeWindow,
  shape: BlurredShape,
  misfit: number,
  finePoints = 400,
): EdgePosterior | null {
  const likelihood = edgeLikelihood(window, shape, misfit);
  const { from, to } = searchRange(window, shape);
  const coarseN = Math.max(8, Math.ceil((to - from) * COARSE_PER_PERIOD));
  const coarse = gridLog(likelihood, from, to, coarseN);
  let best = Number.NEGATIVE_INFINITY;
  for (const v of coarse) if (v > best) best = v;
  if (!Number.isFinite(best)) return null;
  const step = (to - from) / coarseN;
  let first = 0;
  let last = coarseN;
  while (coarse[first]! < best - KEEP_WITHIN) first++;
  while (coarse[last]! < best - KEEP_WITHIN) last--;
  const low = Math.max(from, from + (first - 1) * step);
  const high = Math.min(to, from + (last + 1) * step);
  const fine = gridLog(likelihood, low, high, finePoints);
  const h = (high - low) / finePoints;
  let top = Number.NEGATIVE_INFINITY;
  let topIndex = 0;
  for (let i = 0; i <= finePoints; i++) {
    if (fine[i]! > top) {
      top = fine[i]!;
      topIndex = i;
    }
  }
  let total = 0;
  let mean = 0;
  const weights = new Float64Array(finePoints + 1);
  for (let i = 0; i <= finePoints; i++) {
    const w = Math.exp(fine[i]! - top);
    weights[i] = w;
    total += w;
    mean += w * (low + i * h);
  }
  mean /= total;
  let variance = 0;
  let fourth = 0;
  for (let i = 0; i <= finePoints; i++) {
    const d2 = (low + i * h - mean) ** 2;
    variance += weights[i]! * d2;
    fourth += weights[i]! * d2 * d2;
  }
  const excessKurtosis = variance > 0 ? (fourth * total) / (variance * variance) - 3 : 0;
  // Sheppard-like term: a posterior narrower than the grid is not known better than the grid.
  variance = variance / total + (h * h) / 12;
  const mapT = low + topIndex * h;
  const plateaus = likelihood.plateaus(mapT);
  return {
    meanT: mean,
    sdT: Math.sqrt(variance),
    excessKurtosis,
    intervalT: [quantileOf(weights, total, low, h, 0.025), quantileOf(weights, total, low, h, 0.975)],
    logEvidence: top + Math.log(total * h),
    before: plateaus[0],
    after: plateaus[1],
    mapT,
    grid: { lowT: low, stepT: h, weights },
  };
}

function quantileOf(weights: Float64Array, total: number, low: number, h: number, p: number): number {
  let sum = 0;
  for (let i = 0; i < weights.length; i++) {
    const next = sum + weights[i]!;
    if (next >= p * total) return low + (i - 0.5 + (p * total - sum) / Math.max(weights[i]!, 1e-300)) * h;
    sum = next;
  }
  return low + (weights.length - 1) * h;
}

function gridLog(likelihood: Likelihood, from: number, to: number, n: number): Float64Array {
  const log = new Float64Array(n + 1);
  for (let i = 0; i <= n; i++) log[i] = likelihood.at(from + ((to - from) * i) / n);
  return log;
}

/** A response seen through the shutter, once for each number of bands that windows have. */
export interface BlurredShape {
  readonly shape: EdgeShape;
  readonly exposure: number;
  /** Of channels that go the other way. Left out: the same. */
  readonly against?: BlurredShape;
  /** Half-way point after first light, capture periods. */
  readonly halfT: number;
  readonly ofExtent: (extent: number) => BlurredEdge;
  /** Integral of a band's response from first light on, for light that is not always on. */
  readonly integralOf: (extent: number) => ResponseIntegral;
}

/** Tabulates a shape for windows with any number of bands; tables are made when first asked for. */
export function blurShape(shape: EdgeShape, exposure: number, against?: EdgeShape): BlurredShape {
  const tables = new Map<number, BlurredEdge>();
  const integrals = new Map<number, ResponseIntegral>();
  return {
    shape,
    exposure,
    ...(against ? { against: blurShape(against, exposure) } : {}),
    halfT: levelTime(0.5, shape),
    ofExtent: (extent) => {
      const known = tables.get(extent);
      if (known) return known;
      const table = blurEdge({ ...shape, sweepT: Math.abs(shape.sweepT) * extent }, exposure);
      tables.set(extent, table);
      return table;
    },
    integralOf: (extent) => {
      const known = integrals.get(extent);
      if (known) return known;
      const table = tabulateIntegral({ ...shape, sweepT: Math.abs(shape.sweepT) * extent });
      integrals.set(extent, table);
      return table;
    },
  };
}

/** First light lies where the half-way point would fall around the frame that first shows more than half. */
function searchRange(window: EdgeWindow, shape: BlurredShape): { from: number; to: number } {
  const { halfT, exposure } = shape;
  const halfs = [
    halfT,
    ...(shape.against && isTwoWay(window) ? [shape.against.halfT] : []),
    ...halfOfParts(window, shape),
  ];
  if (window.reachT !== undefined) {
    return { from: exposure / 2 - halfT - window.reachT, to: exposure / 2 - halfT + window.reachT };
  }
  // Where frames are missing before that frame, the change may lie anywhere in the gap.
  const openT = window.channels[0]?.openT ?? new Float64Array();
  const crossing = openT.findIndex((t) => t > -0.5);
  const gapT = crossing > 0 ? Math.max(1, openT[crossing]! - openT[crossing - 1]!) : 1;
  return {
    from: exposure / 2 - gapT - Math.max(...halfs) - 0.7,
    to: exposure / 2 - Math.min(...halfs) + 0.7,
  };
}

// Sweeps shorter than this move the half-way point of a part by less than the range is wide, capture periods.
const SHORT_SWEEP_T = 1;
const WHOLE = 0.95;

/** Half-way point of a change that some of the region's lines show, such as an item of a menu; none where most do. */
function halfOfParts({ channels }: EdgeWindow, { shape, against }: BlurredShape): number[] {
  const covered = channels.reduce((sum, c) => sum + c.extent, 0);
  if (Math.abs(shape.sweepT) < SHORT_SWEEP_T || covered > WHOLE) return [];
  const steps = channels.map(({ values }) => Math.abs(values[values.length - 1]! - values[0]!));
  const total = steps.reduce((a, b) => a + b, 0);
  const lines = channels.map(({ from, extent, way }, i) => ({
    ...{ from, extent, weight: steps[i]! / total },
    ...(way === -1 ? { way } : {}),
  }));
  return total > 0 ? [weightedLevelTime(0.5, shape, lines, against?.shape)] : [];
}

function isTwoWay({ channels }: EdgeWindow): boolean {
  return channels.some((c) => c.way === -1);
}

/** Log likelihood of first light at `t`, the plateaus of every band integrated out with flat priors. */
function edgeLikelihood(window: EdgeWindow, form: BlurredShape, misfit: number): Likelihood {
  const parts = window.channels.map((channel) => {
    const shape = channel.way === -1 ? (form.against ?? form) : form;
    const sweep = shape.shape.sweepT;
    // A display drawn upwards (negative sweep) lights the last band first.
    const start = sweep >= 0 ? channel.from * sweep : -(1 - channel.from - channel.extent) * sweep;
    const likelihood = channel.openings
      ? gatedLikelihood(channel, channel.openings, shape.integralOf(channel.extent), misfit)
      : channelLikelihood(channel, shape.ofExtent(channel.extent), misfit);
    return { start, likelihood };
  });
  return {
    at: (t) => {
      let sum = 0;
      for (const { start, likelihood } of parts) sum += likelihood.at(t + start);
      return sum;
    },
    plateaus: (t) => {
      let before = 0;
      let after = 0;
      for (const { start, likelihood } of parts) {
        const [low, high] = likelihood.plateaus(t + start);
        before += low / parts.length;
        after += high / parts.length;
      }
      return [before, after];
    },
  };
}

function channelLikelihood(channel: EdgeChannel, edge: BlurredEdge, misfit: number): Likelihood {
  const { values, openT, varianceBefore: v0, varianceAfter: v1 } = channel;
  const n = values.length;
  let centre = 0;
  for (const v of values) centre += v / n;
  // Prefix sums: frames wholly before or after the edge need no evaluation of their own.
  const sum = new Float64Array(n + 1);
  const square = new Float64Array(n + 1);
  for (let k = 0; k < n; k++) {
    const y = values[k]! - centre;
    sum[k + 1] = sum[k]! + y;
    square[k + 1] = square[k]! + y * y;
  }
  const stepGuess = Math.abs((values[n - 1] ?? 0) - (values[0] ?? 0));
  const extra = (Math.hypot(misfit, PARTLY_LIT_CODING * (channel.codingSd ?? 0)) * stepGuess) ** 2;
  const log0 = Math.log(v0);
  const log1 = Math.log(v1);
  let hint = 0;
  // Normal equations of the two plateaus at the last t that was asked for; fields, so that nothing is allocated.
  const at = { s00: 0, s01: 0, s11: 0, b0: 0, b1: 0, yy: 0, logVariance: 0 };
  const solve = (t: number): void => {
    let k = hint;
    while (k > 0 && openT[k - 1]! - t > edge.startT) k--;
    while (k < n && openT[k]! - t <= edge.startT) k++;
    hint = k;
    let s00 = k / v0;
    let s01 = 0;
    let s11 = 0;
    let b0 = sum[k]! / v0;
    let b1 = 0;
    let yy = square[k]! / v0;
    let logVariance = k * log0;
    for (; k < n; k++) {
      const x = openT[k]! - t;
      if (x >= edge.endT) break;
      const f = edge.at(x);
      const inside = Math.max(0, Math.min(1, f));
      const variance = (1 - inside) * v0 + inside * v1 + 4 * inside * (1 - inside) * extra;
      const w = 1 / variance;
      const y = values[k]! - centre;
      s00 += w * (1 - f) * (1 - f);
      s01 += w * f * (1 - f);
      b0 += w * (1 - f) * y;
      yy += w * y * y;
      logVariance += Math.log(variance);
      s11 += w * f * f;
      b1 += w * f * y;
    }
    const rest = n - k;
    s11 += rest / v1;
    b1 += (sum[n]! - sum[k]!) / v1;
    yy += (square[n]! - square[k]!) / v1;
    logVariance += rest * log1;
    at.s00 = s00;
    at.s01 = s01;
    at.s11 = s11;
    at.b0 = b0;
    at.b1 = b1;
    at.yy = yy;
    at.logVariance = logVariance;
  };
  return {
    at: (t) => {
      solve(t);
      const { s00, s01, s11, b0, b1, yy, logVariance } = at;
      const det = s00 * s11 - s01 * s01;
      if (!(det > 1e-12 * s00 * s11) || s00 <= 0 || s11 <= 0) return Number.NEGATIVE_INFINITY;
      const explained = (b0 * b0 * s11 - 2 * b0 * b1 * s01 + b1 * b1 * s00) / det;
      return -0.5 * (yy - explained) - 0.5 * logVariance - 0.5 * Math.log(det);
    },
    plateaus: (t) => {
      solve(t);
      const { s00, s01, s11, b0, b1 } = at;
      const det = s00 * s11 - s01 * s01;
      return [centre + (b0 * s11 - b1 * s01) / det, centre + (b1 * s00 - b0 * s01) / det];
    },
  };
}
