/** What a shaken picture is followed by: steep places on its still parts, spread over the picture. */
import type { BlockContrasts, Overview } from './activity.js';
import { changesByItself } from './commonChanges.js';

const REFERENCE_FRAMES = 6;
const ANCHORS = 600;
const LEAST_STEEP = 3;
const ANCHOR_FIELDS = 8;
/** So many anchors on still parts are enough. */
const GOOD_HOLD = 150;

/** Places with steep light in the first frames, with their slopes; parallel arrays. */
export interface Anchors {
  /** 1 / steepness: misfits count as displacements, so that steep moving pictures do not outweigh the still room. */
  readonly scale: Float32Array;
  readonly x: Float32Array;
  readonly y: Float32Array;
  readonly value: Float32Array;
  readonly gradX: Float32Array;
  readonly gradY: Float32Array;
}

/** Whether a block or one two blocks away changes in steps, as a screen or a light does and a shaken edge does not. */
function nearActive(active: ReadonlySet<number>, block: number, columns: number): boolean {
  for (let dy = -2; dy <= 2; dy++) {
    for (let dx = -2; dx <= 2; dx++) if (active.has(block + dy * columns + dx)) return true;
  }
  return false;
}

/** Mean absolute change of a block from one frame to the next: large where light flickers. */
function jumpOf({ columns, rows, frames, luma }: Overview, block: number): number {
  const stride = columns * rows;
  const every = Math.max(1, Math.floor(frames / 150));
  let sum = 0;
  let n = 0;
  for (let k = 0; k + 1 < frames; k += every) {
    sum += Math.abs(luma[(k + 1) * stride + block]! - luma[k * stride + block]!);
    n++;
  }
  return n > 0 ? sum / n : 0;
}

/** The lower quartile of that over the picture: sensor noise. */
function typicalJump(overview: Overview, every: number): number {
  const jumps: number[] = [];
  for (let b = 0; b < overview.columns * overview.rows; b += every * 7) jumps.push(jumpOf(overview, b));
  jumps.sort((a, b) => a - b);
  return jumps[jumps.length >> 2] ?? 0;
}

function scaleOf({ steep }: { readonly steep: number }): number {
  return 1 / Math.max(LEAST_STEEP, steep);
}

/** The places with the steepest light that is still, spread over the picture, and their light in the first frames. */
export function anchorsOf(overview: Overview, active: BlockContrasts): Anchors {
  const { columns, rows, frames, luma } = overview;
  const stride = columns * rows;
  const n = Math.min(REFERENCE_FRAMES, frames);
  const mean = new Float32Array(stride);
  for (let k = 0; k < n; k++) for (let b = 0; b < stride; b++) mean[b]! += luma[k * stride + b]! / n;
  const candidates: { b: number; steep: number }[] = [];
  for (let y = 1; y < rows - 1; y++) {
    for (let x = 1; x < columns - 1; x++) {
      const b = y * columns + x;
      const gx = (mean[b + 1]! - mean[b - 1]!) / 2;
      const gy = (mean[b + columns]! - mean[b - columns]!) / 2;
      candidates.push({ b, steep: Math.min(30, Math.hypot(gx, gy)) });
    }
  }
  candidates.sort((a, b) => b.steep - a.steep || a.b - b.b);
  // No field of the picture (a screen's edges, a picture that scrolls in it) may hold more anchors than the others.
  const perField = Math.ceil(ANCHORS / ANCHOR_FIELDS ** 2);
  const spread = (from: readonly { b: number; steep: number }[]) => {
    const inField = new Uint16Array(ANCHOR_FIELDS ** 2);
    return from
      .filter(({ b }) => {
        const fieldX = Math.floor(((b % columns) * ANCHOR_FIELDS) / columns);
        const fieldY = Math.floor((Math.floor(b / columns) * ANCHOR_FIELDS) / rows);
        return inField[fieldY * ANCHOR_FIELDS + fieldX]!++ < perField;
      })
      .slice(0, ANCHORS);
  };
  const noise = typicalJump(overview, 3);
  const itself = changesByItself(active, overview);
  const isStill = ({ b, steep }: { b: number; steep: number }) =>
    !nearActive(itself, b, columns) && jumpOf(overview, b) < 3 * noise + 0.25 * steep;
  const steepOnes = candidates.filter((c) => c.steep > 1);
  const still = spread(steepOnes.filter(isStill));
  // A shaken picture is active all over; what little is not would be a poor hold.
  const chosen = still.length >= GOOD_HOLD ? still : spread(steepOnes);
  return {
    scale: Float32Array.from(chosen, scaleOf),
    x: Float32Array.from(chosen, (c) => c.b % columns),
    y: Float32Array.from(chosen, (c) => Math.floor(c.b / columns)),
    value: Float32Array.from(chosen, (c) => mean[c.b]! * scaleOf(c)),
    gradX: Float32Array.from(chosen, (c) => ((mean[c.b + 1]! - mean[c.b - 1]!) / 2) * scaleOf(c)),
    gradY: Float32Array.from(chosen, (c) => ((mean[c.b + columns]! - mean[c.b - columns]!) / 2) * scaleOf(c)),
  };
}
