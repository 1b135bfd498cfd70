/** Where to look, from the clip's own activity: the patch that leads is the LED, the patch that follows is the screen. */
import type { ClipFacts, FrameSource } from '../clip/frameSource.js';
import { codeLimits } from '../units.js';
import {
  type BlockBox,
  type BlockContrasts,
  blockContrasts,
  findPatches,
  type Overview,
  type Patch,
} from './activity.js';
import { ledRegion, screenRegions } from './blockRegions.js';
import { commonestPart } from './commonestPart.js';
import { type Following, findFollowers } from './followers.js';
import type { Region } from './region.js';
import { steady, trackHand } from './steadyOverview.js';

/** Regions with the reasons to trust or to doubt them. */
export interface FoundRegions {
  readonly regions: readonly Region[];
  /** 0..1: how consistently the screen patch follows the LED patch. */
  readonly confidence: number;
  /** True where the choice should be looked at before it is believed. */
  readonly unsure: boolean;
  /** Which LED edge is followed by the screen: it lights up, or goes out, when the button is pressed. */
  readonly edge: 'press' | 'release';
  /** Sentences on what was chosen, or why nothing was. */
  readonly notes: readonly string[];
}

/** How to look. */
export interface FindOptions {
  /** True capture rate, Hz. */
  readonly rateHz: number;
  readonly signal?: AbortSignal;
  readonly onProgress?: (framesDone: number) => void;
}

const OVERVIEW_WIDTH = 160;
const FIRST_LOOK_S = 8;
// The shrunken clip is held in memory while it is searched; this keeps it bounded.
const OVERVIEW_BUDGET_BYTES = 96 * 1024 * 1024;
// A light that switches within this time of another is the same light seen twice (glow, reflection).
const SAME_LIGHT_S = 0.006;
const LED_LARGEST_SHARE = 0.03;
const LED_CANDIDATES = 24;
/** Presses that come closer together than this are no person's. */
const LEAST_INTERVAL_S = 0.12;
/** Edges that a light must show to be one by its alternation alone, and how far each may be from the usual size. */
const LEAST_SWITCHES = 6;
const LIKE_USUAL = 0.4;
/** Share of the changes that must be the first of a burst: what changes more often than that is moving picture. */
const LEAST_FIRSTS = 0.3;
/** Makes the score of a clean clip with a dozen presses about 1. */
const SCALE = 2.6;
const ONE_SCAN_S = 0.012;
/** Below this score a light that leads is chance. */
const LEAST_SCORE = 0.12;
/** A clean clip has about 1; what is half as clear, or was seen twice only, must be looked at by a person. */
const SURE = 0.55;
const LEAST_FOLLOWED = 3;
/** Relative spread of the intervals below which something switches by a clock, not by a thumb. */
const CLOCKWORK = 0.03;
/** Displacement by the hand that is taken out of the shrunken clip before it is searched, blocks. */
const LEAST_EXPOSURE_CHANGE = 0.03;
const SHAKEN_BLOCKS = 0.15;

/**
 * Reads the first seconds of a clip shrunken and finds LED and screen; where those do not suffice, reads on and looks
 * again at all of it. FFmpeg waits during the first look, so nothing is decoded twice.
 */
export async function findRegions(source: FrameSource, options: FindOptions): Promise<FoundRegions> {
  const firstFrames = Math.ceil(FIRST_LOOK_S * options.rateHz);
  const shift = source.facts.bitDepth - 8;
  // From black, so that a change of exposure is about a factor.
  const { black } = codeLimits(8, source.facts.range);
  let luma = new Uint8Array(0);
  let maxFrames = 0;
  let looked: FoundRegions | null = null;
  let shape = { columns: 0, rows: 0, frames: 0 };
  const overview = (): Overview => ({ ...shape, luma, rateHz: options.rateHz });
  const times = await source.readOverview(
    OVERVIEW_WIDTH,
    (index, plane, columns, rows) => {
      const needed = (index + 1) * plane.length;
      if (needed > luma.length) {
        maxFrames = Math.max(firstFrames, Math.floor(OVERVIEW_BUDGET_BYTES / plane.length));
        const bigger = new Uint8Array(Math.max(needed, Math.min(maxFrames * plane.length, luma.length * 2)));
        bigger.set(luma);
        luma = bigger;
      }
      for (let b = 0; b < plane.length; b++)
        luma[index * plane.length + b] = Math.max(0, (plane[b]! >> shift) - black);
      const frames = index + 1;
      shape = { columns, rows, frames };
      if (frames === firstFrames) {
        // A look puts displaced frames back in place; the second one starts from what was filmed.
        const copy = luma.slice(0, frames * plane.length);
        looked = chooseRegions({ ...overview(), luma: copy }, source.facts);
        if (suffices(looked)) return false;
      }
      return frames < maxFrames;
    },
    {
      ...(options.signal ? { signal: options.signal } : {}),
      ...(options.onProgress ? { onProgress: options.onProgress } : {}),
    },
  );
  if (looked && (suffices(looked) || times.ptsTicks.length <= firstFrames)) return looked;
  return chooseRegions(overview(), source.facts);
}

function suffices(found: FoundRegions): boolean {
  return found.regions.length >= 2 && !found.unsure;
}

interface Candidate {
  readonly led: Patch;
  readonly sign: 1 | -1;
  readonly presses: readonly number[];
}

interface Pair extends Candidate {
  readonly following: Following;
  readonly score: number;
}

/** The decision, from a shrunken clip. Frames displaced by the hand are put back in `overview.luma`. */
export function chooseRegions(overview: Overview, facts: ClipFacts): FoundRegions {
  const filmed = blockContrasts(overview);
  const track = trackHand(overview, filmed);
  const shaken = track.largestBlocks > SHAKEN_BLOCKS;
  const moved = shaken || track.largestGain > LEAST_EXPOSURE_CHANGE;
  if (moved) steady(overview, track);
  const series = moved ? blockContrasts(overview, track.lost) : filmed;
  const patches = findPatches(overview, series);
  if (patches.length === 0)
    return nothing('Nothing in the picture changes clearly enough to be an LED or a screen.');
  const candidates = patches
    .flatMap((led) => candidatesOf(led, overview, series))
    .slice(0, 2 * LED_CANDIDATES);
  const followings = findFollowers(
    overview,
    candidates.map((c) => c.presses),
  );
  const pairs: Pair[] = candidates
    .map((candidate, i) => ({
      ...candidate,
      following: followings[i]!,
      score: scoreOf(candidate, followings[i]!, overview),
    }))
    .filter((pair) => pair.score > LEAST_SCORE);
  pairs.sort((a, b) => b.score - a.score);
  const best = pairs[0];
  if (!best) {
    return nothing(
      'No small two-level light was found whose switching is followed by a change elsewhere in the picture.',
    );
  }
  const { following } = best;
  const rival = pairs.find((p) => p.led !== best.led && !sameLight(p.led, best.led, overview.rateHz));
  const confidence = Math.min(1, best.score);
  const rivals = rival !== undefined && rival.score > 0.7 * best.score;
  // A light that spends most of the time in the state that its press brings about is more likely no button's.
  const restsWrong = best.sign > 0 !== best.led.restsDark;
  const unclear = confidence < SURE || following.followed < LEAST_FOLLOWED;
  const unsure = unclear || rivals || restsWrong;
  const notes: string[] = [];
  if (restsWrong) {
    notes.push('The presumed LED spends most of the clip in the state that a press would bring about.');
  }
  if (rivals) {
    notes.push('Two lights could be the button LED; the one that leads its screen more steadily was taken.');
  }
  if (unclear) {
    notes.push(
      following.followed < following.presses
        ? `Only ${following.followed} of ${following.presses} flashes of the presumed LED are followed steadily by the presumed screen.`
        : `That the presumed screen answers the presumed LED is not clear from its ${following.presses} flashes.`,
    );
  }
  // Regions stand where the picture is on average, not where it was in the first frames.
  const shift = shaken ? { x: Math.round(track.meanX), y: Math.round(track.meanY) } : { x: 0, y: 0 };
  const margin = 1 + (shaken ? Math.ceil(2 * track.rmsBlocks) : 0);
  const regions = [
    ledRegion(movedBox(best.led.box, shift), margin, overview, facts),
    ...screenRegions(movedBlocks(following.blocks, shift, overview), overview, facts),
  ];
  return { regions, confidence, unsure, edge: best.sign > 0 ? 'press' : 'release', notes };
}

function movedBox(box: BlockBox, by: { readonly x: number; readonly y: number }): BlockBox {
  return { x0: box.x0 + by.x, y0: box.y0 + by.y, x1: box.x1 + by.x, y1: box.y1 + by.y };
}

function movedBlocks(
  blocks: ReadonlySet<number>,
  by: { readonly x: number; readonly y: number },
  { columns, rows }: Overview,
): Set<number> {
  const moved = new Set<number>();
  for (const b of blocks) {
    const x = (b % columns) + by.x;
    const y = Math.floor(b / columns) + by.y;
    if (x >= 0 && y >= 0 && x < columns && y < rows) moved.add(y * columns + x);
  }
  return moved;
}

function nothing(note: string): FoundRegions {
  return { regions: [], confidence: 0, unsure: true, edge: 'press', notes: [note] };
}

/** A patch that may be the LED, once for each of its edges that may be the press. */
function candidatesOf(patch: Patch, overview: Overview, series: BlockContrasts): Candidate[] {
  const most = LED_LARGEST_SHARE * overview.columns * overview.rows;
  return ([1, -1] as const).flatMap((sign): Candidate[] => {
    const led = patch.blocks.length <= most ? commonestPart(overview, patch, sign, series) : patch;
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
  return events.every(({ change }, i) => {
    const turns = i === 0 || Math.sign(change) !== Math.sign(events[i - 1]!.change);
    return turns && Math.abs(Math.abs(change) - usual) < LIKE_USUAL * usual;
  });
}

/** Without the changes that come sooner after the one before than a person presses: bounce, pulses of a dimmed light. */
function firstOfBursts(frames: readonly number[], leastFrames: number): number[] {
  return frames.filter((k, i) => i === 0 || k - frames[i - 1]! > leastFrames);
}

/** How well a light leads what follows it: 0 not at all, about 1 for a clean clip. */
function scoreOf({ led, sign, presses }: Candidate, following: Following, overview: Overview): number {
  const { blocks, followed, lagS, spreadS, quietS, weight } = following;
  if (blocks.size === 0 || followed < 0.5 * following.presses) return 0;
  // A press begins a cycle: the screen has been quiet for longer before it than it takes to answer. A screen taken for
  // the LED is found out, because the LED has switched just before it.
  const leads = quietS / (quietS + lagS);
  const rests = sign > 0 === led.restsDark ? 1 : 0.6;
  const strength = Math.min(1, led.strength / 20) ** 0.25;
  const total = overview.columns * overview.rows;
  return (
    SCALE *
    (followed / Math.max(1, following.presses)) *
    (1 / (1 + spreadS / 0.03)) *
    Math.exp(-lagS / 0.5) *
    // Noise can make a block or two follow a light; a screen is larger and changes more.
    (weight / (weight + 0.003 * total)) *
    (followed / (followed + 4)) *
    // Parts of one screen follow each other within its scan.
    (lagS < ONE_SCAN_S ? 0.5 : 1) *
    // A light in the midst of what follows it is a part of the screen, or of its mirror image.
    (surroundedBy(blocks, led.box, overview) > 0.4 ? 0.4 : 1) *
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

/** Whether the intervals are all the same, as those of an animation or of a blinking light. */
function isClockwork(presses: readonly number[]): boolean {
  if (presses.length < 4) return false;
  const gaps = presses.slice(1).map((p, i) => p - presses[i]!);
  const mean = gaps.reduce((sum, g) => sum + g, 0) / gaps.length;
  const sd = Math.sqrt(gaps.reduce((sum, g) => sum + (g - mean) ** 2, 0) / gaps.length);
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
function sameLight(a: Patch, b: Patch, rateHz: number): boolean {
  const reach = Math.max(1, SAME_LIGHT_S * rateHz);
  const [fewer, more] = a.events.length <= b.events.length ? [a, b] : [b, a];
  let hits = 0;
  for (const e of fewer.events) if (more.events.some((o) => Math.abs(o.frame - e.frame) <= reach)) hits++;
  return hits >= 0.6 * fewer.events.length;
}
