/** Of blocks that each may follow a light, the part of the picture that does. */
import type { Overview } from './activity.js';

/** How each block's light changes about the presses: usual change after and before them, codes, and the time, steps. */
export interface BlockAnswers {
  readonly after: Float32Array;
  readonly before: Float32Array;
  /** 0 where its changes come at no common time. */
  readonly lag: Float32Array;
}

/** Changes below this size are noise, codes. */
export const LEAST_CODES = 2;
/** A display draws its picture within a refresh, and one part of it may answer slower than another. */
const TOGETHER_STEPS = 4;
/** What passes over a light follows a few of its presses, and may be stronger than the screen. */
const PARTS = 3;
/** A change is not the more likely an answer the larger it is beyond this, codes. */
const MOST_CODES = 40;

/** Whether a block changes after presses and not before them. */
export function follows(after: number, before: number): boolean {
  return after >= LEAST_CODES && after >= 1.7 * before + 1;
}

/** Blocks (row * columns + column) with the change of each after a press less that before it, codes. */
export type FollowingBlocks = ReadonlyMap<number, number>;

/** Neighbouring blocks that follow. */
export interface Part {
  readonly blocks: FollowingBlocks;
  /** Sum of their changes, each counted up to `MOST_CODES`. */
  readonly weight: number;
}

/**
 * The parts of the picture that follow one light, at most `PARTS`, the strongest first; none where nothing does. What has
 * grown onto one by chance, because something passes there now and then, changes at other times after a press than the
 * part itself does.
 * @param longestSteps the longest time from a press to an answer.
 */
export function followingParts(
  { columns, rows }: Pick<Overview, 'columns' | 'rows'>,
  score: BlockAnswers,
  longestSteps: number,
): Part[] {
  const following = new Map<number, number>();
  for (let b = 0; b < columns * rows; b++) {
    const after = score.after[b]!;
    const before = score.before[b]!;
    if (!follows(after, before) || score.lag[b]! < 0.6) continue;
    following.set(b, after - before);
  }
  return heaviestParts(following, columns, rows).map((grown) => {
    const usual = usualLag(grown.blocks, score.lag, longestSteps);
    const together = [...grown.blocks].filter(([b]) => Math.abs(score.lag[b]! - usual) <= TOGETHER_STEPS);
    if (together.length === grown.blocks.size) return grown;
    return heaviestParts(new Map(together), columns, rows)[0]!;
  });
}

/** The time around which most of a part changes, by its blocks' weights, steps. */
function usualLag(blocks: FollowingBlocks, lags: Float32Array, longestSteps: number): number {
  const held = new Float64Array(longestSteps + 1);
  for (const [b, codes] of blocks) held[Math.min(longestSteps, Math.round(lags[b]!))]! += weightOf(codes);
  let best = 0;
  let most = 0;
  held.forEach((_, lag) => {
    const around = held.subarray(Math.max(0, lag - TOGETHER_STEPS), lag + TOGETHER_STEPS + 1);
    const sum = around.reduce((total, w) => total + w, 0);
    if (sum > most) [best, most] = [lag, sum];
  });
  return best;
}

const weightOf = (codes: number): number => Math.min(MOST_CODES, codes);

/** The connected parts (gaps of one block bridged) with the largest sums, the largest first. */
function heaviestParts(values: ReadonlyMap<number, number>, columns: number, rows: number): Part[] {
  const seen = new Set<number>();
  const parts: Part[] = [];
  for (const start of values.keys()) {
    if (seen.has(start)) continue;
    const blocks = new Map([[start, values.get(start)!]]);
    const queue = [start];
    seen.add(start);
    let weight = 0;
    for (let b = queue.pop(); b !== undefined; b = queue.pop()) {
      weight += weightOf(values.get(b)!);
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
          blocks.set(other, values.get(other)!);
          queue.push(other);
        }
      }
    }
    parts.push({ blocks, weight });
  }
  return parts.sort((a, b) => b.weight - a.weight).slice(0, PARTS);
}
