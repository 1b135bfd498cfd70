/** Where to look, from the clip's own activity: the patch that leads is the LED, the patch that follows is the screen. */
import type { ClipFacts, FrameSource, PixelRect } from '../clip/frameSource.js';
import { findPatches, type Overview, type Patch } from './activity.js';
import { codedToUpright } from './geometry.js';
import type { Region } from './region.js';

/** Regions with the reasons to trust or to doubt them. */
export interface FoundRegions {
  readonly regions: readonly Region[];
  /** 0..1: how consistently the screen patch follows the LED patch. */
  readonly confidence: number;
  /** True where the choice should be looked at before it is believed. */
  readonly unsure: boolean;
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
const RESPONSE_WINDOW_S = 0.5;
// A patch that changes within this time of another is the same light seen twice (glow, reflection).
const SAME_LIGHT_S = 0.006;
const LED_LARGEST_SHARE = 0.03;

/** Reads the first seconds of a clip shrunken, then, if they do not suffice, all of it, and finds LED and screen. */
export async function findRegions(source: FrameSource, options: FindOptions): Promise<FoundRegions> {
  const firstFrames = Math.ceil(FIRST_LOOK_S * options.rateHz);
  const first = await readOverviewOf(source, options, firstFrames);
  const found = chooseRegions(first.overview, source.facts);
  if (!first.stoppedEarly || (found.regions.length >= 2 && !found.unsure)) return found;
  const blocks = first.overview.columns * first.overview.rows;
  const all = await readOverviewOf(source, options, Math.floor(OVERVIEW_BUDGET_BYTES / blocks));
  return chooseRegions(all.overview, source.facts);
}

async function readOverviewOf(
  source: FrameSource,
  options: FindOptions,
  maxFrames: number,
): Promise<{ overview: Overview; stoppedEarly: boolean }> {
  let luma = new Uint8Array(0);
  let columns = 0;
  let rows = 0;
  let frames = 0;
  const shift = source.facts.bitDepth - 8;
  const times = await source.readOverview(
    OVERVIEW_WIDTH,
    (index, plane, width, height) => {
      columns = width;
      rows = height;
      const needed = (index + 1) * plane.length;
      if (needed > luma.length) {
        const bigger = new Uint8Array(Math.max(needed, Math.min(maxFrames * plane.length, luma.length * 2)));
        bigger.set(luma);
        luma = bigger;
      }
      for (let b = 0; b < plane.length; b++) luma[index * plane.length + b] = plane[b]! >> shift;
      frames = index + 1;
      return frames < maxFrames;
    },
    {
      ...(options.signal ? { signal: options.signal } : {}),
      ...(options.onProgress ? { onProgress: options.onProgress } : {}),
    },
  );
  return {
    overview: { columns, rows, frames, luma, rateHz: options.rateHz },
    stoppedEarly: times.stoppedEarly,
  };
}

interface Pair {
  readonly led: Patch;
  readonly screen: Patch;
  readonly score: number;
  readonly lagS: number;
  readonly followed: number;
  readonly presses: number;
}

/** The decision, from a shrunken clip. */
export function chooseRegions(overview: Overview, facts: ClipFacts): FoundRegions {
  const patches = findPatches(overview).slice(0, 60);
  if (patches.length === 0)
    return nothing('Nothing in the picture changes clearly enough to be an LED or a screen.');
  const total = overview.columns * overview.rows;
  const pairs: Pair[] = [];
  for (const led of patches) {
    if (led.blocks.length > LED_LARGEST_SHARE * total || led.twoLevel < 0.75) continue;
    for (const screen of patches) {
      if (screen === led) continue;
      const pair = judge(led, screen, overview);
      if (pair) pairs.push(pair);
    }
  }
  pairs.sort((a, b) => b.score - a.score);
  const best = pairs[0];
  if (!best) {
    return nothing(
      'No small two-level light was found whose switching is followed by a change elsewhere in the picture.',
    );
  }
  const rival = pairs.find((p) => !sameLight(p.led, best.led, overview.rateHz) && p.led !== best.screen);
  const confidence = Math.min(1, best.score);
  const unsure = confidence < 0.5 || (rival !== undefined && rival.score > 0.85 * best.score);
  const screen = joinScreen(best.screen, patches, best.led, overview);
  const notes: string[] = [];
  if (rival && rival.score > 0.85 * best.score) {
    notes.push('Two lights could be the button LED; the one that leads its screen more steadily was taken.');
  }
  if (confidence < 0.5) {
    notes.push(
      `Only ${best.followed} of ${best.presses} flashes of the presumed LED are followed steadily by the presumed screen.`,
    );
  }
  const regions = [ledRegion(best.led, overview, facts), ...screenRegions(screen, overview, facts)];
  return { regions, confidence, unsure, notes };
}

function nothing(note: string): FoundRegions {
  return { regions: [], confidence: 0, unsure: true, notes: [note] };
}

/** How well `screen` follows `led`: share of the LED's switch-ons that are followed, and how steadily. */
function judge(led: Patch, screen: Patch, overview: Overview): Pair | null {
  if (sameLight(led, screen, overview.rateHz)) return null;
  const sign = led.restsDark ? 1 : -1;
  const presses = led.events.filter((e) => Math.sign(e.change) === sign).map((e) => e.frame);
  if (presses.length === 0) return null;
  const changes = screen.events.map((e) => e.frame);
  const window = RESPONSE_WINDOW_S * overview.rateHz;
  const lags: number[] = [];
  presses.forEach((press, i) => {
    const until = Math.min(press + window, presses[i + 1] ?? Number.POSITIVE_INFINITY);
    const change = changes.find((c) => c > press && c <= until);
    if (change !== undefined) lags.push((change - press) / overview.rateHz);
  });
  const followed = lags.length;
  // The last press may have its response behind the end of what was read.
  const possible = presses.filter((p) => p + window < overview.frames).length || presses.length;
  if (followed === 0 || followed < 0.5 * possible) return null;
  lags.sort((a, b) => a - b);
  const lagS = lags[followed >> 1]!;
  const spreadS = (lags[Math.floor(0.85 * (followed - 1))]! - lags[Math.floor(0.15 * (followed - 1))]!) / 2;
  // Changes that no press explains count against a screen (idle animation), ends of flashes do not (twice a press).
  const surplus = Math.max(0, changes.length - 2 * presses.length - 2) / (presses.length + 2);
  // A press begins a cycle: the screen has been quiet for longer before it than it takes to answer. A screen taken for
  // the LED is found out, because the LED has switched just before it.
  const quiets = presses.flatMap((press) => {
    const before = changes.filter((c) => c < press).pop();
    return before === undefined ? [] : [(press - before) / overview.rateHz];
  });
  quiets.sort((a, b) => a - b);
  const quietS = quiets.length > 0 ? quiets[quiets.length >> 1]! : 1;
  const leads = quietS / (quietS + lagS);
  // Noise can make a block or two follow a light; a screen is larger and changes more.
  const size = Math.min(1, 0.3 + 0.35 * Math.log10(1 + screen.blocks.length));
  const strength = (Math.min(1, screen.strength / 40) * Math.min(1, led.strength / 40)) ** 0.25;
  const score =
    Math.min(1, followed / possible) *
    (1 / (1 + spreadS / 0.03)) *
    Math.exp(-lagS / 0.4) *
    (1 / (1 + surplus)) *
    size *
    strength *
    // A button's light is mostly smaller than what it moves on a screen.
    (led.blocks.length > screen.blocks.length ? 0.75 : 1) *
    (followed / (followed + 3)) *
    roundness(led) *
    leads *
    leads *
    3;
  return { led, screen, score, lagS, followed, presses: presses.length };
}

/** 1 for a compact patch, less for a line: a button's light is no line across the picture. */
function roundness({ box }: Patch): number {
  const width = box.x1 - box.x0;
  const height = box.y1 - box.y0;
  return Math.min(1, 0.4 + Math.min(width, height) / Math.max(width, height));
}

/** True where two patches change at the same moments: one light, seen twice. */
function sameLight(a: Patch, b: Patch, rateHz: number): boolean {
  const reach = Math.max(1, SAME_LIGHT_S * rateHz);
  const [fewer, more] = a.events.length <= b.events.length ? [a, b] : [b, a];
  let hits = 0;
  for (const e of fewer.events) if (more.events.some((o) => Math.abs(o.frame - e.frame) <= reach)) hits++;
  return hits >= 0.6 * fewer.events.length;
}

/** The screen's patches: all that change with the best one, within one scanout, and lie near it. */
function joinScreen(main: Patch, patches: readonly Patch[], led: Patch, overview: Overview): Set<number> {
  const reach = Math.max(2, 0.022 * overview.rateHz);
  const near = Math.max(4, Math.round(overview.columns / 24));
  const blocks = new Set(main.blocks);
  const box = { ...main.box };
  for (const patch of patches) {
    if (patch === main || patch === led) continue;
    const hits = patch.events.filter((e) =>
      main.events.some((o) => Math.abs(o.frame - e.frame) <= reach),
    ).length;
    if (hits < 0.6 * Math.max(patch.events.length, main.events.length * 0.5)) continue;
    if (patch.strength < 0.25 * main.strength) continue;
    if (sameLight(patch, led, overview.rateHz)) continue;
    const apart =
      patch.box.x0 > box.x1 + near ||
      patch.box.x1 < box.x0 - near ||
      patch.box.y0 > box.y1 + near ||
      patch.box.y1 < box.y0 - near;
    if (apart) continue;
    for (const b of patch.blocks) blocks.add(b);
    box.x0 = Math.min(box.x0, patch.box.x0);
    box.x1 = Math.max(box.x1, patch.box.x1);
    box.y0 = Math.min(box.y0, patch.box.y0);
    box.y1 = Math.max(box.y1, patch.box.y1);
  }
  return blocks;
}

function blockRect(
  box: { x0: number; y0: number; x1: number; y1: number },
  overview: Overview,
  facts: ClipFacts,
): PixelRect {
  const sx = facts.codedWidth / overview.columns;
  const sy = facts.codedHeight / overview.rows;
  const x = Math.max(0, Math.floor(box.x0 * sx));
  const y = Math.max(0, Math.floor(box.y0 * sy));
  const right = Math.min(facts.codedWidth, Math.ceil(box.x1 * sx));
  const bottom = Math.min(facts.codedHeight, Math.ceil(box.y1 * sy));
  return codedToUpright({ x, y, width: right - x, height: bottom - y }, facts);
}

function ledRegion(led: Patch, overview: Overview, facts: ClipFacts): Region {
  const { box } = led;
  const grown = {
    x0: Math.max(0, box.x0 - 1),
    y0: Math.max(0, box.y0 - 1),
    x1: Math.min(overview.columns, box.x1 + 1),
    y1: Math.min(overview.rows, box.y1 + 1),
  };
  return { name: 'led', role: 'led', ...blockRect(grown, overview, facts) };
}

/**
 * Screen regions from the changing blocks. Tall pictures give three narrow bands, because a display draws line by line
 * and a tall region smears its onset; anything else is one region.
 */
function screenRegions(blocks: ReadonlySet<number>, overview: Overview, facts: ClipFacts): Region[] {
  const { columns, rows } = overview;
  const box = trimmedBox(blocks, columns, rows);
  const turned = facts.orientation.rotationDeg === 90 || facts.orientation.rotationDeg === 270;
  const width = box.x1 - box.x0;
  const height = box.y1 - box.y0;
  const filled = fillOf(blocks, box, columns);
  // "Down the screen" is along the upright y axis, whichever coded axis that is.
  const along = turned ? width : height;
  const picture = turned ? columns : rows;
  if (along < 0.3 * picture || filled < 0.6)
    return [{ name: 'screen', role: 'screen', ...blockRect(box, overview, facts) }];
  const upright = codedToUpright(blockRectCoded(box, overview, facts), facts);
  const bandHeight = Math.max(8, Math.round(upright.height * 0.08));
  const bandWidth = Math.min(Math.round(upright.width * 0.7), Math.max(64, Math.round(20_000 / bandHeight)));
  const x = upright.x + Math.round((upright.width - bandWidth) / 2);
  return (['top', 'middle', 'bottom'] as const).map((name, i) => ({
    name,
    role: 'screen' as const,
    x,
    y: Math.round(upright.y + upright.height * [0.08, 0.5, 0.92][i]! - bandHeight / 2),
    width: bandWidth,
    height: bandHeight,
  }));
}

interface BlockBox {
  x0: number;
  y0: number;
  x1: number;
  y1: number;
}

function fillOf(blocks: ReadonlySet<number>, box: BlockBox, columns: number): number {
  let inside = 0;
  for (let y = box.y0; y < box.y1; y++) {
    for (let x = box.x0; x < box.x1; x++) if (blocks.has(y * columns + x)) inside++;
  }
  return inside / Math.max(1, (box.x1 - box.x0) * (box.y1 - box.y0));
}

/** Bounding box without the thin outgrowths by which a moving background clings to a screen. */
function trimmedBox(blocks: ReadonlySet<number>, columns: number, rows: number): BlockBox {
  const box = { x0: columns, y0: rows, x1: 0, y1: 0 };
  for (const b of blocks) {
    box.x0 = Math.min(box.x0, b % columns);
    box.x1 = Math.max(box.x1, (b % columns) + 1);
    box.y0 = Math.min(box.y0, Math.floor(b / columns));
    box.y1 = Math.max(box.y1, Math.floor(b / columns) + 1);
  }
  // A sprite is ragged all over and keeps its box; a filled screen loses sides that are mostly empty.
  const isSparse = (side: BlockBox) => fillOf(blocks, side, columns) < 0.5;
  const trimmed = { ...box };
  for (let changed = true; changed && trimmed.x1 - trimmed.x0 > 4 && trimmed.y1 - trimmed.y0 > 4; ) {
    changed = false;
    if (isSparse({ ...trimmed, x1: trimmed.x0 + 1 })) [trimmed.x0, changed] = [trimmed.x0 + 1, true];
    if (isSparse({ ...trimmed, x0: trimmed.x1 - 1 })) [trimmed.x1, changed] = [trimmed.x1 - 1, true];
    if (isSparse({ ...trimmed, y1: trimmed.y0 + 1 })) [trimmed.y0, changed] = [trimmed.y0 + 1, true];
    if (isSparse({ ...trimmed, y0: trimmed.y1 - 1 })) [trimmed.y1, changed] = [trimmed.y1 - 1, true];
  }
  const held = fillOf(blocks, trimmed, columns) * (trimmed.x1 - trimmed.x0) * (trimmed.y1 - trimmed.y0);
  return held >= 0.6 * blocks.size ? trimmed : box;
}

function blockRectCoded(
  box: { x0: number; y0: number; x1: number; y1: number },
  overview: Overview,
  facts: ClipFacts,
): PixelRect {
  const sx = facts.codedWidth / overview.columns;
  const sy = facts.codedHeight / overview.rows;
  const x = Math.ceil(box.x0 * sx);
  const y = Math.ceil(box.y0 * sy);
  return { x, y, width: Math.floor(box.x1 * sx) - x, height: Math.floor(box.y1 * sy) - y };
}
