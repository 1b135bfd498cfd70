/** Which lights lead another part of the picture, and how well. */
import type { BlockBox, BlockContrasts, Overview } from './activity.js';
import { commonestPart } from './commonestPart.js';
import { type Following, findFollowers } from './followers.js';
import type { Patch } from './patches.js';
import { blocksOfPooled, isHiddenFromBlocks, pooledOverview } from './pooledOverview.js';

// A light that switches within this time of another is the same light seen twice (glow, reflection).
const SAME_LIGHT_S = 0.006;
const LED_LARGEST_SHARE = 0.03;
const LED_CANDIDATES = 24;
/** Presses that come closer together than this are no person's. */
const LEAST_INTERVAL_S = 0.12;
/**
 * Edges that a light must show to be one by its alternation alone, and how far most may be from the usual size: somebody
 * who walks by changes the camera's exposure for a few of them, or hides one.
 */
const LEAST_SWITCHES = 6;
const LIKE_USUAL = 0.4;
const LIKE_SHARE = 0.8;
/** Of ten edges one may follow another of its kind: more, and noise alternates as well. */
const IN_TURN_SHARE = 0.9;
/** Share of the changes that must be the first of a burst: what changes more often than that is moving picture. */
const LEAST_FIRSTS = 0.3;
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
/** Relative spread of the intervals below which something switches by a clock, not by a thumb. */
const CLOCKWORK = 0.03;

/** A patch that may be the LED, and its switching in one direction as presses. */
export interface Candidate {
  readonly led: Patch;
  readonly sign: 1 | -1;
  readonly presses: readonly number[];
}

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

/** The patches that may be the LED, the most active first. */
export function ledCandidates(
  overview: Overview,
  patches: readonly Patch[],
  series: BlockContrasts,
): Candidate[] {
  return patches.flatMap((led) => candidatesOf(led, overview, series)).slice(0, 2 * LED_CANDIDATES);
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
      return { ...candidate, following, clearness, chance: Math.min(1, byChance), score: clearness * weight };
    });
    return ledAway(led, overview);
  });
  return byScore(found);
}

function isAround(blocks: ReadonlySet<number>, { box }: Patch, overview: Overview): boolean {
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

/** A patch that may be the LED, once for each of its edges that may be the press. */
function candidatesOf(patch: Patch, overview: Overview, series: BlockContrasts): Candidate[] {
  const most = LED_LARGEST_SHARE * overview.columns * overview.rows;
  return ([1, -1] as const).flatMap((sign): Candidate[] => {
    // A thumb that passes over a light makes one large patch with it.
    const led = patch.core.length <= most ? commonestPart(overview, patch, sign, series) : patch;
    if (led.core.length > most || (led.twoLevel < 0.7 && !goesOnAndOff(led))) return [];
    const changes = led.events.filter((e) => Math.sign(e.change) === sign).map((e) => e.frame);
    const presses = firstOfBursts(changes, LEAST_INTERVAL_S * overview.rateHz);
    return presses.length === 0 || presses.length < LEAST_FIRSTS * changes.length
      ? []
      : [{ led, sign, presses }];
  });
}

/**
 * Whether a patch goes on and off in turn by about the same amount, as a light does whose levels wander with the
 * camera's exposure or with a shadow.
 */
function goesOnAndOff({ events }: Patch): boolean {
  if (events.length < LEAST_SWITCHES) return false;
  const sizes = events.map((e) => Math.abs(e.change)).sort((a, b) => a - b);
  const usual = sizes[sizes.length >> 1]!;
  const inTurn = events.filter(({ change }, i) => {
    return i === 0 || Math.sign(change) !== Math.sign(events[i - 1]!.change);
  });
  const like = sizes.filter((size) => Math.abs(size - usual) < LIKE_USUAL * usual);
  return inTurn.length >= IN_TURN_SHARE * sizes.length && like.length >= LIKE_SHARE * sizes.length;
}

/** Without the changes that come sooner after the one before than a person presses: bounce, pulses of a dimmed light. */
function firstOfBursts(frames: readonly number[], leastFrames: number): number[] {
  return frames.filter((k, i) => i === 0 || k - frames[i - 1]! > leastFrames);
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

/** Share of `blocks` that lie in a box or beside it. */
function shareWithin(blocks: ReadonlySet<number>, box: BlockBox, { columns }: Overview): number {
  let inside = 0;
  for (const b of blocks) {
    const x = b % columns;
    const y = Math.floor(b / columns);
    if (x >= box.x0 - 1 && x <= box.x1 && y >= box.y0 - 1 && y <= box.y1) inside++;
  }
  return blocks.size > 0 ? inside / blocks.size : 0;
}

/** Share of the blocks around a box, up to three away, that are among `blocks`. */
function surroundedBy(blocks: ReadonlySet<number>, box: BlockBox, { columns, rows }: Overview): number {
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

/** True where two patches change at the same moments: one light, seen twice. */
export function sameLight(a: Patch, b: Patch, rateHz: number): boolean {
  const reach = Math.max(1, SAME_LIGHT_S * rateHz);
  const [fewer, more] = a.events.length <= b.events.length ? [a, b] : [b, a];
  let hits = 0;
  for (const e of fewer.events) if (more.events.some((o) => Math.abs(o.frame - e.frame) <= reach)) hits++;
  return hits >= 0.6 * fewer.events.length;
}
