/** Where to look, from the clip's own activity: the patch that leads is the LED, the patch that follows is the screen. */
import type { ClipFacts, FrameSource, LumaPlane } from '../clip/frameSource.js';
import { codeLimits } from '../units.js';
import { type BlockBox, blockContrasts, type Overview } from './activity.js';
import { ledRegion, screenRegions } from './blockRegions.js';
import type { FollowingBlocks } from './followingPart.js';
import { judged } from './judgeLeaders.js';
import { byScore, leaders } from './leaders.js';
import { ledCandidates } from './ledCandidates.js';
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
      if (index === 0) looked = null;
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
    if (judgement && judgement.doubts.length === 0) break;
    const fainter = leaders(overview, candidates, side);
    judgement = judged(byScore([...(judgement?.pairs ?? []), ...fainter]), overview);
  }
  if (!judgement) {
    return nothing(
      'No small two-level light was found whose switching is followed by a change elsewhere in the picture.',
    );
  }
  const { best, light, confidence, doubts } = judgement;
  // Regions stand where the picture is on average, not where it was in the first frames.
  const shift = shaken ? { x: Math.round(track.meanX), y: Math.round(track.meanY) } : { x: 0, y: 0 };
  const margin = 1 + (shaken ? Math.ceil(2 * track.rmsBlocks) : 0);
  const regions = [
    ledRegion(movedBox(light, shift), margin, overview, facts),
    ...screenRegions(movedBlocks(best.following.blocks, shift, overview), overview, facts),
  ];
  return {
    regions,
    confidence,
    unsure: doubts.length > 0,
    edge: best.sign > 0 ? 'press' : 'release',
    notes: doubts,
  };
}

function movedBox(box: BlockBox, by: { readonly x: number; readonly y: number }): BlockBox {
  return { x0: box.x0 + by.x, y0: box.y0 + by.y, x1: box.x1 + by.x, y1: box.y1 + by.y };
}

function movedBlocks(
  blocks: FollowingBlocks,
  by: { readonly x: number; readonly y: number },
  { columns, rows }: Overview,
): FollowingBlocks {
  const moved = new Map<number, number>();
  for (const [b, codes] of blocks) {
    const x = (b % columns) + by.x;
    const y = Math.floor(b / columns) + by.y;
    if (x >= 0 && y >= 0 && x < columns && y < rows) moved.set(y * columns + x, codes);
  }
  return moved;
}

function nothing(note: string): FoundRegions {
  return { regions: [], confidence: 0, unsure: true, edge: 'press', notes: [note] };
}
