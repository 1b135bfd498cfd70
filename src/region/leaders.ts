/** Which lights lead another part of the picture, and how well. */
import type { BlockBox, Overview } from './activity.js';
import { type Following, findFollowers } from './followers.js';
import type { FollowingBlocks } from './followingPart.js';
import type { Candidate } from './ledCandidates.js';
import type { Patch } from './patches.js';
import { blocksOfPooled, isHiddenFromBlocks, pooledOverview } from './pooledOverview.js';

/** Makes the clearness of a clean clip about 1. */
const SCALE = 1.85;
/** A part that follows as clearly is the screen, and no other need be looked at. */
const CLEAR = 0.55;
/** With so many presses a clip has half of the weight that it would have with ever more. */
const HALF_WEIGHT = 4;
/** Lights, times what might follow each of them: what chance has to choose from. */
const LOOKS = 100;
const ONE_SCAN_S = 0.012;
/** A light in the midst of a part has this share of it around it, and is worth so much less. */
const AROUND_SHARE = 0.4;
const IN_THE_MIDST = 0.4;
/** A mirror image of something brighter is worth so much less. */
const IMAGE = 0.4;
/** Gap between light and follower, blocks, within which a thumb's edge moves, or the light's own glow ends. */
const BESIDE_BLOCKS = 2;
/**
 * Such a part is up to so many times as large as the light: of a thumb that comes into the picture a strip changes first,
 * and the rest follows it, each time alike. It is worth so much less, so that a screen elsewhere is looked for.
 */
const BESIDE_LARGEST = 8;
const BESIDE = 0.4;
/** Relative spread of the intervals below which something switches by a clock, not by a thumb. */
const CLOCKWORK = 0.03;

/** A light with what follows it. */
export interface Leader extends Candidate {
  readonly following: Following;
  /** How well it leads: 0 not at all, about 1 for a clean clip, whatever the number of its presses. */
  readonly clearness: number;
  /** Bound on the chance (0..1) that something in such a picture follows some light as often and as well by itself. */
  readonly chance: number;
  /** To choose the likeliest: of two that lead equally well, the one that was seen more often. */
  readonly score: number;
}

/**
 * Each light with what follows it, the likeliest LED first.
 * @param side looks for what is large and faint, in squares of so many blocks either way.
 */
export function leaders(overview: Overview, candidates: readonly Candidate[], side = 1): Leader[] {
  const pooled = side > 1;
  const places = (overview.columns * overview.rows) / side ** 2;
  const inBlocks = (own: Following): Following =>
    pooled ? { ...own, blocks: blocksOfPooled(own.blocks, overview, side) } : own;
  const followings = findFollowers(
    pooled ? pooledOverview(overview, side) : overview,
    candidates.map((c) => c.presses),
    (light, strongest) => {
      const following = inBlocks(strongest);
      const candidate = candidates[light]!;
      return (
        isAround(following.blocks, candidate.led, overview) ||
        isBeside(following.blocks, candidate.led, overview) ||
        clearnessOf(candidate, following, overview, places) < CLEAR
      );
    },
  );
  const found = candidates.map((candidate, i): Leader => {
    const led = followings[i]!.map((own): Leader => {
      const following = inBlocks(own);
      const { followed, logChance } = following;
      const isSeenInBlocks = pooled && !isHiddenFromBlocks(own, logChance, side);
      const clearness = isSeenInBlocks ? 0 : clearnessOf(candidate, following, overview, places);
      const byChance = LOOKS * Math.exp(logChance);
      // What goes by a clock is in time with all else that goes by it.
      const likely = isClockwork(candidate.presses) ? Math.max(1, byChance) : byChance;
      const weight = followed / (followed + HALF_WEIGHT) / (1 + likely ** 0.25);
      const beside = isBeside(following.blocks, candidate.led, overview) ? BESIDE : 1;
      const score = clearness * weight * beside * (candidate.isImage ? IMAGE : 1);
      return { ...candidate, following, clearness, chance: Math.min(1, byChance), score };
    });
    return ledAway(led, overview);
  });
  return byScore(found);
}

function isAround(blocks: FollowingBlocks, { box }: Patch, overview: Overview): boolean {
  return surroundedBy(blocks, box, overview) > AROUND_SHARE;
}

/**
 * What one light leads, of the parts that follow it; they are several where the strongest does not follow clearly, as
 * somebody who passes by does not, or lies around the light. A thumb that passes over it is the strongest now and then,
 * and answers worse than the screen; a screen does not answer worse than anything else, and a light in the midst of it is
 * a part of it, or of its mirror image.
 */
function ledAway(led: readonly Leader[], overview: Overview): Leader {
  const best = byScore(led)[0]!;
  return isAround(best.following.blocks, best.led, overview)
    ? { ...best, clearness: IN_THE_MIDST * best.clearness, score: IN_THE_MIDST * best.score }
    : best;
}

/** The likeliest first. */
export function byScore(found: readonly Leader[]): Leader[] {
  return found.toSorted((a, b) => b.score - a.score);
}

/** @param places blocks, or squares of them, in which something could follow by chance. */
function clearnessOf(
  { led, sign, presses }: Candidate,
  following: Following,
  overview: Overview,
  places: number,
): number {
  const { blocks, followed, lagS, spreadS, quietS, weight } = following;
  if (blocks.size === 0 || followed < 0.5 * following.presses) return 0;
  // A press begins a cycle: the screen has been quiet for longer before it than it takes to answer. A screen taken for
  // the LED is found out, because the LED has switched just before it.
  const leads = quietS / (quietS + lagS);
  const rests = sign > 0 === led.restsDark ? 1 : 0.6;
  const strength = Math.min(1, led.strength / 20) ** 0.25;
  return (
    SCALE *
    (followed / Math.max(1, following.presses)) *
    (1 / (1 + spreadS / 0.03)) *
    Math.exp(-lagS / 0.5) *
    // Noise can make a block or two follow a light; a screen is larger and changes more.
    (weight / (weight + 0.003 * places)) *
    // Parts of one screen follow each other within its scan.
    (lagS < ONE_SCAN_S ? 0.5 : 1) *
    // What follows within the light itself is its own later part: a display's, drawn line by line.
    (shareWithin(blocks, led.box, overview) > 0.5 ? 0.2 : 1) *
    roundness(led) *
    (isClockwork(presses) ? 0.4 : 1) *
    strength *
    rests *
    leads *
    leads
  );
}

/**
 * Whether the intervals are all the same, as those of an animation or of a blinking light, or a few of them twice or
 * three times as long, where a change was not seen.
 */
function isClockwork(presses: readonly number[]): boolean {
  if (presses.length < 4) return false;
  const gaps = presses.slice(1).map((p, i) => p - presses[i]!);
  const usual = gaps.toSorted((a, b) => a - b)[gaps.length >> 1]!;
  const single = gaps.map((g) => g / Math.max(1, Math.round(g / usual)));
  const mean = single.reduce((sum, g) => sum + g, 0) / gaps.length;
  const sd = Math.sqrt(single.reduce((sum, g) => sum + (g - mean) ** 2, 0) / gaps.length);
  return sd < Math.max(CLOCKWORK * mean, 1.5);
}

/** 1 for a compact patch, less for a line: a button's light is no line across the picture. */
function roundness({ box }: Patch): number {
  const width = box.x1 - box.x0;
  const height = box.y1 - box.y0;
  return Math.min(1, 0.4 + Math.min(width, height) / Math.max(width, height));
}

/** Whether what follows a light is small and next to it. */
export function isBeside(
  blocks: FollowingBlocks,
  { box }: Patch,
  { columns }: Pick<Overview, 'columns'>,
): boolean {
  const area = (box.x1 - box.x0 + 1) * (box.y1 - box.y0 + 1);
  const reach = {
    x0: box.x0 - BESIDE_BLOCKS,
    x1: box.x1 + BESIDE_BLOCKS,
    y0: box.y0 - BESIDE_BLOCKS,
    y1: box.y1 + BESIDE_BLOCKS,
  };
  const near = (b: number) => {
    const [x, y] = [b % columns, Math.floor(b / columns)];
    return touches({ x0: x, x1: x, y0: y, y1: y }, reach);
  };
  return blocks.size <= BESIDE_LARGEST * area && [...blocks.keys()].some(near);
}

/** Whether two boxes overlap or touch. */
export function touches(a: BlockBox, b: BlockBox): boolean {
  return a.x0 <= b.x1 && b.x0 <= a.x1 && a.y0 <= b.y1 && b.y0 <= a.y1;
}

/** Share of `blocks` that lie in a box or beside it. */
function shareWithin(blocks: FollowingBlocks, box: BlockBox, { columns }: Overview): number {
  let inside = 0;
  for (const b of blocks.keys()) {
    const x = b % columns;
    const y = Math.floor(b / columns);
    if (x >= box.x0 - 1 && x <= box.x1 && y >= box.y0 - 1 && y <= box.y1) inside++;
  }
  return blocks.size > 0 ? inside / blocks.size : 0;
}

/** Share of the blocks around a box, up to three away, that are among `blocks`. */
function surroundedBy(blocks: FollowingBlocks, box: BlockBox, { columns, rows }: Overview): number {
  let around = 0;
  let held = 0;
  for (let y = Math.max(0, box.y0 - 3); y < Math.min(rows, box.y1 + 3); y++) {
    for (let x = Math.max(0, box.x0 - 3); x < Math.min(columns, box.x1 + 3); x++) {
      if (x >= box.x0 && x < box.x1 && y >= box.y0 && y < box.y1) continue;
      around++;
      if (blocks.has(y * columns + x)) held++;
    }
  }
  return around > 0 ? held / around : 0;
}
