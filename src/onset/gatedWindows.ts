/** Cuts the frames around changes out of the light of a gated backlight, with the noise of their plateaus. */
import type { LineWeight } from './edgeShape.js';
import type { EdgeWindow } from './edgeWindow.js';
import { type Gate, gateLight, gateOpenings } from './gate.js';
import type { Band, Crossing } from './windows.js';

/** One kind of change of one region. */
export interface GatedKind {
  readonly whole: Band;
  readonly parts: readonly Band[];
  readonly lines: readonly LineWeight[];
  /** In time order, sign 1 to more light. */
  readonly crossings: readonly Crossing[];
}

// Frames of which less than this share of the brightest was lit do not help to place a change.
const DIM_FRAME = 0.3;
const LONGEST_REACH = 80;

/**
 * Windows around the changes of one kind; a window never reaches into the change before or after.
 * @param windowFrames camera frames of about one refresh.
 * @returns one a crossing, in order; null where there is no plateau to compare with.
 */
export function gatedWindows(
  kind: GatedKind,
  periodS: number,
  gate: Gate,
  windowFrames: number,
): (EdgeWindow | null)[] {
  const { whole, parts, crossings } = kind;
  const frames = whole.signal.length;
  const usual = usualReach(gate);
  const plateau = Math.max(8, Math.ceil(3 * gate.periodT), windowFrames);
  const lit = litFrames(whole, periodS, gate);
  const noises = parts.map((band) => plateauNoise(band, periodS, crossings, gate, windowFrames));
  return crossings.map((crossing, i) => {
    const previous = crossings[i - 1]?.frame ?? 0;
    const next = crossings[i + 1]?.frame ?? frames;
    // Where the light stayed away for long, the change may lie anywhere in the gap.
    const reach = Math.max(usual, Math.min(LONGEST_REACH, gapAround(lit, crossing.frame) + 1));
    const first = Math.max(
      0,
      crossing.frame - reach - plateau,
      previous + Math.min(2 * windowFrames, (crossing.frame - previous) >> 1),
    );
    const last = Math.min(
      frames,
      crossing.frame + reach + 2 * windowFrames + plateau,
      Math.max(next - reach, crossing.frame + 2),
    );
    if (last - first < 6 || crossing.frame - first < 2 || last - crossing.frame < 2) return null;
    const originS = whole.openS[crossing.frame]!;
    const rising = crossing.sign > 0;
    const channels = parts.map((band, b) => {
      const indices = Array.from({ length: last - first }, (_, k) => first + k);
      return {
        values: band.signal.slice(first, last),
        openT: Float64Array.from(indices, (k) => (band.openS[k]! - originS) / periodS),
        openings: indices.map((k) => gateOpenings(gate, band.openS[k]! / periodS)),
        varianceBefore: rising ? noises[b]!.low : noises[b]!.high,
        varianceAfter: rising ? noises[b]!.high : noises[b]!.low,
        from: band.from,
        extent: band.extent,
      };
    });
    return { firstFrame: first, originS, channels, reachT: reach };
  });
}

/**
 * Spans, s, longer than the rhythm's own dark ones, in which no frame caught a good part of the light: pulses that nearly
 * keep pace with the frames fall behind the closed shutter one after the other.
 */
export function unlitSpans(band: Band, periodS: number, gate: Gate): (readonly [from: number, to: number])[] {
  const lit = litFrames(band, periodS, gate);
  const own = usualReach(gate);
  const spans: (readonly [number, number])[] = [];
  let from = 0;
  for (let k = 0; k <= lit.length; k++) {
    if (k < lit.length && !lit[k]) continue;
    if (k - from > own) spans.push([band.openS[from]!, band.openS[Math.min(k, lit.length - 1)]!]);
    from = k + 1;
  }
  return spans;
}

/** Frames to either side of a change within which the rhythm shows it, as a rule. */
function usualReach(gate: Gate): number {
  return Math.ceil(1.3 * gate.periodT) + 2;
}

/** Frames that catch a good part of the light. */
function litFrames(band: Band, periodS: number, gate: Gate): Uint8Array {
  const light = Float64Array.from(band.openS, (s) => gateLight(gate, s / periodS, gate.exposure));
  const most = Math.min(gate.exposure, gate.duty * gate.periodT);
  return Uint8Array.from(light, (v) => (v > DIM_FRAME * most ? 1 : 0));
}

/** Frames from one to the second lit frame on the side where that is farther. */
function gapAround(lit: Uint8Array, frame: number): number {
  const to = (step: 1 | -1) => {
    let found = 0;
    let k = frame;
    while (k >= 0 && k < lit.length && found < 2) {
      k += step;
      if (lit[k]) found++;
    }
    return Math.abs(k - frame);
  };
  return Math.max(to(1), to(-1));
}

/** Variance of a frame about its plateau seen through the gate, in the darker and in the brighter state. */
function plateauNoise(
  band: Band,
  periodS: number,
  crossings: readonly Crossing[],
  gate: Gate,
  guard: number,
): { low: number; high: number } {
  const scatter = { low: [] as number[], high: [] as number[] };
  const levels = { low: [] as number[], high: [] as number[] };
  crossings.forEach((crossing, i) => {
    const next = crossings[i + 1]?.frame ?? band.signal.length;
    const from = crossing.frame + 2 * guard;
    const to = Math.min(next - guard, from + 120);
    if (to - from < 5) return;
    let gg = 0;
    let gy = 0;
    const light: number[] = [];
    for (let k = from; k < to; k++) {
      const g = gateLight(gate, band.openS[k]! / periodS, gate.exposure);
      light.push(g);
      gg += g * g;
      gy += g * band.signal[k]!;
    }
    const level = gg > 0 ? gy / gg : 0;
    let sum = 0;
    for (let k = from; k < to; k++) sum += (band.signal[k]! - level * light[k - from]!) ** 2;
    const side = crossing.sign > 0 ? 'high' : 'low';
    scatter[side].push(sum / (to - from - 1));
    levels[side].push(level * gate.duty * gate.exposure);
  });
  const middle = (values: number[]) => [...values].sort((a, b) => a - b)[values.length >> 1];
  const step = Math.abs((middle(levels.high) ?? 1) - (middle(levels.low) ?? 0));
  const floor = (0.005 * step) ** 2 + 1e-18;
  const low = middle(scatter.low) ?? middle(scatter.high) ?? floor;
  const high = middle(scatter.high) ?? low;
  return { low: low + floor, high: high + floor };
}
