/** What in the picture follows a light: blocks whose light changes after its switching, and not before it. */
import type { Overview } from './activity.js';
import { forEachBlock, type SteppedClip, steppedClip } from './steppedClip.js';

/** What follows one candidate. */
export interface Following {
  /** Blocks (row * columns + column) of the part that follows most strongly; empty where nothing does. */
  readonly blocks: ReadonlySet<number>;
  /** Sum over those blocks of the change after a press less that before it, codes. */
  readonly weight: number;
  /** Presses whose change stands out of the time before them. */
  readonly followed: number;
  /** Presses that could be judged. */
  readonly presses: number;
  /** Median time from press to change, and half the range of its middle 70 %, s. */
  readonly lagS: number;
  readonly spreadS: number;
  /** Median quiet time of the following part before a press, s. */
  readonly quietS: number;
}

const WINDOW_STEPS = 24;
/** Quiet time that is asked for before a press: shorter, because the answer before may fall back late. */
const QUIET_STEPS = 14;
/** Later windows for slow chains; a response is looked for up to half a second after the press. */
const WINDOW_STARTS = [0, 18, 36] as const;
const LEAST_CODES = 2;
const QUIET_LIMIT_STEPS = 60;

interface Score {
  readonly after: Float32Array;
  readonly before: Float32Array;
  readonly lag: Float32Array;
}

/**
 * What follows each of several lights.
 * @param pressFrames for each light the camera frames at which it switches.
 */
export function findFollowers(overview: Overview, pressFrames: readonly (readonly number[])[]): Following[] {
  const blocks = overview.columns * overview.rows;
  const clip = steppedClip(overview);
  const { stepFrames, steps } = clip;
  const presses = pressFrames.map((list) =>
    list.map((f) => Math.round(f / stepFrames)).filter((s) => s >= 4 && s + WINDOW_STEPS + 4 < steps),
  );
  const scores = presses.map(
    (): Score => ({
      after: new Float32Array(blocks),
      before: new Float32Array(blocks),
      lag: new Float32Array(blocks),
    }),
  );
  const ahead = new Float32Array(steps);
  const quiet = new Float32Array(steps);
  forEachBlock(
    clip,
    () => true,
    (b, sizes) => {
      // Most of a picture never changes at all.
      if (largest(sizes, 0, steps) < LEAST_CODES) return;
      runningLargest(sizes, ahead, WINDOW_STEPS);
      runningLargest(sizes, quiet, QUIET_STEPS);
      presses.forEach((list, i) => {
        scoreBlock(sizes, ahead, quiet, list, scores[i]!, b);
      });
    },
  );
  const parts = scores.map((score) => followingPart(overview, score));
  const wholes = sizesOfParts(clip, parts);
  return presses.map((list, i) => describe(clip, list, parts[i]!, wholes[i]!));
}

/** For each part the mean of its blocks' changes at each step. A block of many parts is worked out once. */
function sizesOfParts(clip: SteppedClip, parts: readonly Part[]): Float32Array[] {
  const wholes = parts.map(() => new Float32Array(clip.steps));
  forEachBlock(
    clip,
    (b) => parts.some(({ blocks }) => blocks.has(b)),
    (b, sizes) => {
      parts.forEach(({ blocks }, i) => {
        if (!blocks.has(b)) return;
        const whole = wholes[i]!;
        const { size } = blocks;
        for (let s = 0; s < whole.length; s++) whole[s]! += sizes[s]! / size;
      });
    },
  );
  return wholes;
}

function largest(sizes: Float32Array, from: number, to: number): number {
  let most = 0;
  const last = Math.min(sizes.length, to);
  for (let s = Math.max(0, from); s < last; s++) if (sizes[s]! > most) most = sizes[s]!;
  return most;
}

const median = (values: number[]): number => {
  values.sort((a, b) => a - b);
  return values[values.length >> 1] ?? 0;
};

/** The largest of `width` values from each step on. */
function runningLargest(sizes: Float32Array, out: Float32Array, width: number): void {
  // The largest of 16 from two of 8, and of 24 from two of 16 that overlap.
  out.set(sizes);
  let reach = 1;
  const widen = (by: number): void => {
    for (let s = 0; s + by < out.length; s++) if (out[s + by]! > out[s]!) out[s] = out[s + by]!;
    reach += by;
  };
  while (reach < width) widen(Math.min(reach, width - reach));
}

const sorted = new Float32Array(256);

/**
 * Upper quartile of `values[p + offset]` over the presses; 0 outside the clip. Up to 256 presses, evenly chosen. Not the
 * median, because an item of a menu changes at some of the presses only.
 */
function quartileAt(values: Float32Array, presses: readonly number[], offset: number): number {
  const stride = Math.ceil(presses.length / sorted.length);
  let n = 0;
  for (let i = 0; i < presses.length; i += stride) {
    const value = values[Math.max(0, presses[i]! + offset)] ?? 0;
    let at = n++;
    for (; at > 0 && sorted[at - 1]! > value; at--) sorted[at] = sorted[at - 1]!;
    sorted[at] = value;
  }
  return sorted[Math.min(n - 1, (3 * n) >> 2)]!;
}

function scoreBlock(
  sizes: Float32Array,
  ahead: Float32Array,
  quiet: Float32Array,
  presses: readonly number[],
  score: Score,
  block: number,
): void {
  if (presses.length === 0) return;
  score.before[block] = quartileAt(quiet, presses, -2 - QUIET_STEPS);
  let from = 0;
  let most = 0;
  for (const start of WINDOW_STARTS) {
    const after = quartileAt(ahead, presses, start);
    if (after <= 1.15 * most) continue;
    most = after;
    from = start;
  }
  score.after[block] = most;
  if (!follows(most, score.before[block]!)) return;
  score.lag[block] = median(presses.map((p) => firstStrong(sizes, p - 2, p + from + WINDOW_STEPS, most) - p));
}

function follows(after: number, before: number): boolean {
  return after >= LEAST_CODES && after >= 1.7 * before + 1;
}

/** First local maximum that reaches 0.6 of `size`. */
function firstStrong(sizes: Float32Array, from: number, to: number, size: number): number {
  for (let s = Math.max(1, from); s < to && s + 1 < sizes.length; s++) {
    if (sizes[s]! >= 0.6 * size && sizes[s]! >= sizes[s + 1]! && sizes[s]! >= sizes[s - 1]!) return s;
  }
  return to;
}

interface Part {
  readonly blocks: ReadonlySet<number>;
  readonly weight: number;
}

/** The part of the picture that follows one light most strongly. */
function followingPart({ columns, rows }: Overview, score: Score): Part {
  const following = new Map<number, number>();
  for (let b = 0; b < columns * rows; b++) {
    const after = score.after[b]!;
    const before = score.before[b]!;
    if (!follows(after, before) || score.lag[b]! < 0.6) continue;
    following.set(b, Math.min(40, after - before));
  }
  return heaviestPart(following, columns, rows);
}

/** @param whole change of `part` at each step. */
function describe(
  { overview, stepFrames, steps }: SteppedClip,
  presses: readonly number[],
  { blocks, weight }: Part,
  whole: Float32Array,
): Following {
  const nothing = { blocks, weight, followed: 0, presses: presses.length, lagS: 0, spreadS: 0, quietS: 0 };
  if (blocks.size === 0) return nothing;
  const reach = WINDOW_STARTS[WINDOW_STARTS.length - 1]! + WINDOW_STEPS;
  const peaks = presses.map((p) => largest(whole, p + 1, p + reach));
  const typical = median([...peaks]);
  const lags: number[] = [];
  const quiets: number[] = [];
  presses.forEach((p, i) => {
    let quiet = 0;
    while (quiet < QUIET_LIMIT_STEPS && p - 2 - quiet > 0 && whole[p - 2 - quiet]! < 0.5 * typical) quiet++;
    quiets.push(quiet);
    const until = Math.min(p + reach, presses[i + 1] ?? steps);
    const lag = firstStrong(whole, p + 1, until, typical);
    if (lag < until) lags.push(lag - p);
  });
  lags.sort((a, b) => a - b);
  const at = (share: number) => lags[Math.floor(share * (lags.length - 1))] ?? 0;
  const stepS = stepFrames / overview.rateHz;
  return {
    ...nothing,
    followed: lags.length,
    lagS: at(0.5) * stepS,
    spreadS: 0.5 * (at(0.85) - at(0.15)) * stepS,
    quietS: median(quiets) * stepS,
  };
}

/** The connected part (gaps of one block bridged) with the largest sum. */
function heaviestPart(values: ReadonlyMap<number, number>, columns: number, rows: number): Part {
  const seen = new Set<number>();
  let best: { blocks: Set<number>; weight: number } = { blocks: new Set(), weight: 0 };
  for (const start of values.keys()) {
    if (seen.has(start)) continue;
    const blocks = new Set([start]);
    const queue = [start];
    seen.add(start);
    let weight = 0;
    for (let b = queue.pop(); b !== undefined; b = queue.pop()) {
      weight += values.get(b)!;
      const x = b % columns;
      const y = Math.floor(b / columns);
      for (let dy = -2; dy <= 2; dy++) {
        for (let dx = -2; dx <= 2; dx++) {
          const nx = x + dx;
          const ny = y + dy;
          if (nx < 0 || ny < 0 || nx >= columns || ny >= rows) continue;
          const other = ny * columns + nx;
          if (seen.has(other) || !values.has(other)) continue;
          seen.add(other);
          blocks.add(other);
          queue.push(other);
        }
      }
    }
    if (weight > best.weight) best = { blocks, weight };
  }
  return best;
}
