/** Where to look, from the clip's own activity: the patch that leads is the LED, the patch that follows is the screen. */
import type { ClipFacts, FrameSource, LumaPlane } from '../clip/frameSource.js';
import { codeLimits } from '../units.js';
import { type BlockBox, blockContrasts, type Overview } from './activity.js';
import { ledRegion, screenRegions } from './blockRegions.js';
import type { Following } from './followers.js';
import { byScore, type Leader, leaders, ledCandidates, sameLight } from './leaders.js';
import { findPatches } from './patches.js';
import { POOLED_SIDES } from './pooledOverview.js';
import type { Region } from './region.js';
import { steady, trackHand } from './steadyOverview.js';

/** Regions with the reasons to trust or to doubt them. */
export interface FoundRegions {
  readonly regions: readonly Region[];
  /** 0..1: how consistently the screen patch follows the LED patch, less what chance could do. */
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
/** What leads less clearly is not worth a person's look. */
const LEAST_CLEARNESS = 0.12;
/** A clean clip has about 1; what is half as clear must be looked at by a person. */
const SURE = 0.55;
/** Fewer flashes prove nothing, however well they are followed. */
const LEAST_FOLLOWED = 4;
/** A second light that leads nearly as well as the first. */
const RIVAL = 0.7;
/** Of the changes of a light that is part of an answer, so many come with it, as near as a display draws its picture. */
const ANSWERS_SHARE = 0.8;
const TOGETHER_S = 1 / 30;
/** Gap between light and follower, blocks, within which a thumb's edge moves, or the light's own glow ends. */
const BESIDE_BLOCKS = 2;
/** Such a part is hardly larger than the light. */
const BESIDE_LARGEST = 1.5;
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
      fromBlack(plane, shift, black, luma.subarray(index * plane.length, needed));
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

/** Codes of 8 bit above black. */
function fromBlack(plane: LumaPlane, shift: number, black: number, out: Uint8Array): void {
  for (let b = 0; b < out.length; b++) out[b] = Math.max(0, (plane[b]! >> shift) - black);
}

function suffices(found: FoundRegions): boolean {
  return found.regions.length >= 2 && !found.unsure;
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
  const candidates = ledCandidates(overview, patches, series);
  let judgement = judged(leaders(overview, candidates), overview);
  for (const side of POOLED_SIDES) {
    if (judgement && !judgement.unsure) break;
    const fainter = leaders(overview, candidates, side);
    judgement = judged(byScore([...(judgement?.pairs ?? []), ...fainter]), overview);
  }
  if (!judgement) {
    return nothing(
      'No small two-level light was found whose switching is followed by a change elsewhere in the picture.',
    );
  }
  const { pairs, best, confidence, restsWrong, rivals, unclear, unsure, beside } = judgement;
  const { following } = best;
  const notes: string[] = [];
  if (restsWrong) {
    notes.push('The presumed LED spends most of the clip in the state that a press would bring about.');
  }
  if (rivals) {
    notes.push('Two lights could be the button LED; the one that leads its screen more steadily was taken.');
  }
  if (beside) {
    notes.push(
      'The presumed screen is a small part right beside the presumed LED: perhaps a thumb, or the glow of the LED.',
    );
  }
  if (unclear) notes.push(unclearNote(following));
  // Regions stand where the picture is on average, not where it was in the first frames.
  const shift = shaken ? { x: Math.round(track.meanX), y: Math.round(track.meanY) } : { x: 0, y: 0 };
  const margin = 1 + (shaken ? Math.ceil(2 * track.rmsBlocks) : 0);
  const regions = [
    ledRegion(movedBox(wholeLight(best, pairs, overview.rateHz), shift), margin, overview, facts),
    ...screenRegions(movedBlocks(following.blocks, shift, overview), overview, facts),
  ];
  return { regions, confidence, unsure, edge: best.sign > 0 ? 'press' : 'release', notes };
}

/** The likeliest of some lights, and what speaks against it. */
interface Judgement {
  readonly pairs: readonly Leader[];
  readonly best: Leader;
  readonly confidence: number;
  readonly restsWrong: boolean;
  readonly rivals: boolean;
  readonly unclear: boolean;
  readonly beside: boolean;
  readonly unsure: boolean;
}

/** @param found the likeliest first. */
function judged(found: readonly Leader[], { columns, rateHz }: Overview): Judgement | null {
  const pairs = found.filter((pair) => pair.clearness > LEAST_CLEARNESS);
  const best = pairs[0];
  if (!best) return null;
  const others = pairs.filter((p) => p.led !== best.led && !sameLight(p.led, best.led, rateHz));
  // What lights up with the answer goes out with its end, or the other way round.
  const answers = found.filter((p) => answersTo(p, best, rateHz)).map((p) => p.led.blocks);
  const rival = others.find((p) => !answers.includes(p.led.blocks));
  const confidence = Math.min(1, best.clearness) * (1 - best.chance);
  const rivals = rival !== undefined && rival.score > RIVAL * best.score;
  // A light that spends most of the time in the state that its press brings about is more likely no button's.
  const restsWrong = best.sign > 0 !== best.led.restsDark;
  const unclear = best.following.followed < LEAST_FOLLOWED || confidence < SURE;
  const beside = isBeside(best, columns);
  const unsure = unclear || rivals || restsWrong || beside;
  return { pairs, best, confidence, restsWrong, rivals, unclear, beside, unsure };
}

/** Whether a light is itself part of what follows another, such as the screen's mirror image in the bench. */
function answersTo({ presses }: Leader, first: Leader, rateHz: number): boolean {
  const lag = first.following.lagS * rateHz;
  const isInTime = (k: number) => first.presses.some((p) => Math.abs(k - p - lag) <= TOGETHER_S * rateHz);
  return presses.filter(isInTime).length >= ANSWERS_SHARE * presses.length;
}

/** Whether what follows a light is about as small and next to it. */
function isBeside({ led: { box }, following: { blocks } }: Leader, columns: number): boolean {
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
  return blocks.size <= BESIDE_LARGEST * area && [...blocks].some(near);
}

/** The light's box with those of its parts that touch it: where a thumb passed, they were seen apart. */
function wholeLight(best: Leader, pairs: readonly Leader[], rateHz: number): BlockBox {
  return pairs
    .filter(({ led, sign }) => sign === best.sign && sameLight(led, best.led, rateHz))
    .filter(({ led: { box } }) => touches(box, best.led.box))
    .reduce((whole, { led: { box } }) => around(whole, box), best.led.box);
}

function touches(a: BlockBox, b: BlockBox): boolean {
  return a.x0 <= b.x1 && b.x0 <= a.x1 && a.y0 <= b.y1 && b.y0 <= a.y1;
}

function around(a: BlockBox, b: BlockBox): BlockBox {
  return {
    x0: Math.min(a.x0, b.x0),
    y0: Math.min(a.y0, b.y0),
    x1: Math.max(a.x1, b.x1),
    y1: Math.max(a.y1, b.y1),
  };
}

function unclearNote({ followed, presses }: Following): string {
  if (followed < presses)
    return `Only ${followed} of ${presses} flashes of the presumed LED are followed steadily by the presumed screen.`;
  if (presses < LEAST_FOLLOWED)
    return `The presumed LED was seen to flash ${presses === 1 ? 'once' : `${presses} times`} only, which may be chance.`;
  return `That the presumed screen answers the presumed LED is not clear from its ${presses} flashes.`;
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
