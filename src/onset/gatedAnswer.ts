/** What an edge seen through a gate answers: the time of a level, of cells that settle or of the first flash that shows it. */
import { normalCdf } from '../numeric/normal.js';
import type { EdgePosterior } from './edgeFit.js';
import { type EdgeShape, type LineWeight, responseAt, weightedLevelTime } from './edgeShape.js';
import type { Gate } from './gate.js';

// A flash that shows just about the level may be taken for the one before or after it: the share of the change that it
// shows is known to this part of itself (tone curve, form of the response; judgement).
const SHARE_SD = 0.2;
const SURE = 2.6;
/** Times in capture periods from the window's origin. */
export interface GatedAnswer {
  readonly firstT: number;
  readonly levelT: number;
  readonly halfT: number;
  readonly settledT: number;
  readonly sdT: number;
  readonly excessKurtosis: number;
  readonly intervalT: readonly [number, number];
  /** True where the light was off, or not caught, for so long that the time is a guess by more than a camera frame. */
  readonly unseen: boolean;
}

/** A dimmed backlight: the response is the cells' own. */
export function envelope(
  posterior: EdgePosterior,
  shape: EdgeShape,
  lines: readonly LineWeight[],
  level: number,
): GatedAnswer {
  const passes = (p: number) => posterior.meanT + weightedLevelTime(p, shape, lines);
  const levelT = weightedLevelTime(level, shape, lines);
  return {
    firstT: posterior.meanT,
    levelT: posterior.meanT + levelT,
    halfT: passes(0.5),
    settledT: passes(0.9),
    sdT: posterior.sdT,
    excessKurtosis: posterior.excessKurtosis,
    intervalT: [posterior.intervalT[0] + levelT, posterior.intervalT[1] + levelT],
    unseen: posterior.sdT > 1,
  };
}

/** A strobed backlight: the response comes with the first flash that shows the level; which one, the posterior tells. */
export function firstFlash(
  posterior: EdgePosterior,
  shape: EdgeShape,
  lines: readonly LineWeight[],
  gate: Gate,
  originT: number,
  level: number,
): GatedAnswer {
  const { lowT, stepT, weights } = posterior.grid;
  const shareAt = flashShare(shape, lines, gate);
  const timeOf = (n: number) => gate.startT + n * gate.periodT - originT;
  const firstWith = (t: number, p: number) => {
    let n = Math.floor((t - timeOf(0)) / gate.periodT - gate.duty);
    while (shareAt(timeOf(n) - t) < p) n++;
    return n;
  };
  const chance = new Map<number, number>();
  let total = 0;
  weights.forEach((w, i) => {
    if (w < 1e-9) return;
    const t = lowT + i * stepT;
    let left = w;
    for (let n = Math.floor((t - timeOf(0)) / gate.periodT - gate.duty); left > 1e-4 * w; n++) {
      const share = shareAt(timeOf(n) - t);
      const passes = chanceOfPassing(share, level);
      chance.set(n, (chance.get(n) ?? 0) + left * passes);
      left *= 1 - passes;
    }
    total += w;
  });
  let mean = 0;
  for (const [n, w] of chance) mean += (w / total) * timeOf(n);
  let variance = 0;
  let fourth = 0;
  for (const [n, w] of chance) {
    variance += (w / total) * (timeOf(n) - mean) ** 2;
    fourth += (w / total) * (timeOf(n) - mean) ** 4;
  }
  const excess = variance > 1e-4 ? Math.max(-2, fourth / variance ** 2 - 3) : 0;
  const sdT = Math.hypot(Math.sqrt(variance), 0.01);
  const likely = [...chance].filter(([, w]) => w > 0.025 * total).map(([n]) => timeOf(n));
  const half = timeOf(firstWith(posterior.mapT, 0.5));
  return {
    firstT: mean,
    levelT: mean,
    halfT: Math.max(mean, half),
    settledT: Math.max(mean, half, timeOf(firstWith(posterior.mapT, 0.9))),
    sdT,
    excessKurtosis: excess,
    intervalT: [Math.min(...likely, mean) - 0.02, Math.max(...likely, mean) + 0.02],
    unseen: sdT > 1,
  };
}

/** Either of two answers, where nothing tells which: halfway between them. */
export function halfway(one: GatedAnswer, other: GatedAnswer): GatedAnswer {
  const middle = (of: (a: GatedAnswer) => number) => (of(one) + of(other)) / 2;
  const sdT = Math.hypot(Math.max(one.sdT, other.sdT), (one.levelT - other.levelT) / 2);
  return {
    firstT: Math.min(one.firstT, other.firstT),
    levelT: middle((a) => a.levelT),
    halfT: middle((a) => a.halfT),
    settledT: middle((a) => a.settledT),
    sdT,
    excessKurtosis: Math.min(one.excessKurtosis, other.excessKurtosis),
    intervalT: [
      Math.min(one.intervalT[0], other.intervalT[0]),
      Math.max(one.intervalT[1], other.intervalT[1]),
    ],
    unseen: one.unseen || other.unseen || sdT > 1,
  };
}

function chanceOfPassing(share: number, level: number): number {
  const z = (share - level) / (SHARE_SD * share + 0.004);
  if (z > SURE) return 1;
  return z < -SURE ? 0 : normalCdf(z);
}

/** Share of the change in a flash that begins `t` after first light: the mean over its length, line by line; tabulated. */
function flashShare(shape: EdgeShape, lines: readonly LineWeight[], gate: Gate): (t: number) => number {
  const lengthT = gate.duty * gate.periodT;
  const parts = [0.1, 0.3, 0.5, 0.7, 0.9];
  const share = (t: number) => {
    let sum = 0;
    for (const { from, extent, weight } of lines) {
      const start = shape.sweepT >= 0 ? from * shape.sweepT : -(1 - from - extent) * shape.sweepT;
      const line = { ...shape, sweepT: shape.sweepT * extent };
      for (const part of parts) sum += (weight * responseAt(t + part * lengthT - start, line)) / parts.length;
    }
    return sum;
  };
  const endT = Math.abs(shape.sweepT) + 8 * shape.tauT * (shape.overshoot ? 2 : 1) + lengthT + 0.1;
  const n = 400;
  const h = (endT + lengthT) / n;
  const table = Float64Array.from({ length: n + 1 }, (_, i) => share(-lengthT + i * h));
  return (t) => {
    const position = (t + lengthT) / h;
    if (position <= 0) return 0;
    if (position >= n) return 1;
    const i = Math.floor(position);
    return table[i]! + (position - i) * (table[i + 1]! - table[i]!);
  };
}
