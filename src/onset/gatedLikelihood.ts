/** Likelihood of an edge whose light is switched on and off: each frame sees the change only while the light is on. */

import type { ResponseIntegral } from './edgeShape.js';
import type { EdgeChannel, Likelihood } from './edgeWindow.js';

/**
 * As for steady light, but frame `k` reads `before * (o_k - f_k) + after * f_k`, with `o_k` the time that the light is
 * on in it and `f_k` the part of that in which the change has come. Both plateaus are integrated out with flat priors.
 * @param openings stretches in which the light is on, one list a frame.
 */
export function gatedLikelihood(
  channel: EdgeChannel,
  openings: readonly Float64Array[],
  response: ResponseIntegral,
  misfit: number,
): Likelihood {
  const { values, openT, varianceBefore: v0, varianceAfter: v1 } = channel;
  const n = values.length;
  const { open, scale } = openTimes(openings);
  const extra = (misfit * stepOf(values, open)) ** 2;
  const gg = new Float64Array(n + 1);
  const gy = new Float64Array(n + 1);
  const yy = new Float64Array(n + 1);
  for (let k = 0; k < n; k++) {
    gg[k + 1] = gg[k]! + open[k]! * open[k]!;
    gy[k + 1] = gy[k]! + open[k]! * values[k]!;
    yy[k + 1] = yy[k]! + values[k]! * values[k]!;
  }
  // Openings end within one capture period after the exposure begins.
  const normal = (t: number) => {
    let k = 0;
    while (k < n && openT[k]! + 1 <= t) k++;
    let s00 = gg[k]! / v0;
    let s01 = 0;
    let s11 = 0;
    let b0 = gy[k]! / v0;
    let b1 = 0;
    let square = yy[k]! / v0;
    let logVariance = k * Math.log(v0);
    for (; k < n; k++) {
      const since = openT[k]! - t;
      if (since >= response.endT) break;
      const pairs = openings[k]!;
      let f1 = 0;
      for (let i = 0; i < pairs.length; i += 2) {
        f1 += response.at(since + pairs[i + 1]!) - response.at(since + pairs[i]!);
      }
      f1 *= scale;
      const f0 = open[k]! - f1;
      const share = open[k]! > 0 ? Math.max(0, Math.min(1, f1 / open[k]!)) : 0;
      const variance =
        (1 - share) * v0 + share * v1 + 4 * share * (1 - share) * extra * Math.min(1, open[k]!) ** 2;
      const w = 1 / variance;
      const y = values[k]!;
      s00 += w * f0 * f0;
      s01 += w * f0 * f1;
      s11 += w * f1 * f1;
      b0 += w * f0 * y;
      b1 += w * f1 * y;
      square += w * y * y;
      logVariance += Math.log(variance);
    }
    s11 += (gg[n]! - gg[k]!) / v1;
    b1 += (gy[n]! - gy[k]!) / v1;
    square += (yy[n]! - yy[k]!) / v1;
    logVariance += (n - k) * Math.log(v1);
    return { s00, s01, s11, b0, b1, square, logVariance, det: s00 * s11 - s01 * s01 };
  };
  return {
    at: (t) => {
      const { s00, s01, s11, b0, b1, square, logVariance, det } = normal(t);
      if (!(det > 1e-12 * s00 * s11) || s00 <= 0 || s11 <= 0) return Number.NEGATIVE_INFINITY;
      const explained = (b0 * b0 * s11 - 2 * b0 * b1 * s01 + b1 * b1 * s00) / det;
      return -0.5 * (square - explained) - 0.5 * logVariance - 0.5 * Math.log(det);
    },
    plateaus: (t) => {
      const { s00, s01, s11, b0, b1, det } = normal(t);
      return [(b0 * s11 - b1 * s01) / det, (b1 * s00 - b0 * s01) / det];
    },
  };
}

/** Time that the light is on in each frame, scaled so that its mean over the window is 1. */
function openTimes(openings: readonly Float64Array[]): { open: Float64Array; scale: number } {
  const open = Float64Array.from(openings, (pairs) => {
    let sum = 0;
    for (let i = 0; i < pairs.length; i += 2) sum += pairs[i + 1]! - pairs[i]!;
    return sum;
  });
  const mean = open.reduce((a, b) => a + b, 0) / Math.max(1, open.length);
  const scale = mean > 0 ? 1 / mean : 1;
  return { open: open.map((o) => o * scale), scale };
}

/** Rough size of the step: brightness of the last third less that of the first. */
function stepOf(values: Float64Array, open: Float64Array): number {
  const third = Math.max(1, Math.floor(values.length / 3));
  const level = (from: number, to: number) => {
    let gy = 0;
    let gg = 0;
    for (let k = from; k < to; k++) {
      gy += open[k]! * values[k]!;
      gg += open[k]! * open[k]!;
    }
    return gg > 0 ? gy / gg : 0;
  };
  return Math.abs(level(values.length - third, values.length) - level(0, third));
}
