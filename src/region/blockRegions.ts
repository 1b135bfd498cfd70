/** From blocks of the shrunken clip to regions of the upright picture. */

import type { ClipFacts, PixelRect } from '../clip/frameSource.js';
import type { BlockBox, Overview } from './activity.js';
import type { FollowingBlocks } from './followingPart.js';
import { codedToUpright } from './geometry.js';
import type { Region } from './region.js';

/**
 * A line of blocks with less than these shares of the fullest line's blocks, and of the strongest line's change, is none of
 * the screen: its mirror image in the bench carries a tenth of its light, a third of its codes.
 */
const LEAST_FILLED = 0.2;
const LEAST_CHANGE = 0.4;
/** Share of the blocks that a run of rows must hold to stand for all of them. */
const RUN_SHARE = 0.7;
/** A filled part of this size, in blocks either way, does without its rim. */
const LEAST_INSET_BLOCKS = 10;

/** The LED's region: its blocks with `margin` blocks around them, for its glow and the hand's shake. */
export function ledRegion(box: BlockBox, margin: number, overview: Overview, facts: ClipFacts): Region {
  const grown = {
    x0: Math.max(0, box.x0 - margin),
    y0: Math.max(0, box.y0 - margin),
    x1: Math.min(overview.columns, box.x1 + margin),
    y1: Math.min(overview.rows, box.y1 + margin),
  };
  return { name: 'led', role: 'led', ...blockRect(grown, overview, facts) };
}

function blockRect(box: BlockBox, overview: Overview, facts: ClipFacts): PixelRect {
  const sx = facts.codedWidth / overview.columns;
  const sy = facts.codedHeight / overview.rows;
  const x = Math.max(0, Math.floor(box.x0 * sx));
  const y = Math.max(0, Math.floor(box.y0 * sy));
  const right = Math.min(facts.codedWidth, Math.ceil(box.x1 * sx));
  const bottom = Math.min(facts.codedHeight, Math.ceil(box.y1 * sy));
  return codedToUpright({ x, y, width: right - x, height: bottom - y }, facts);
}

/**
 * Screen regions from the changing blocks. Tall pictures give three narrow bands, because a display draws line by line
 * and a tall region smears its onset; anything else is one region.
 */
export function screenRegions(blocks: FollowingBlocks, overview: Overview, facts: ClipFacts): Region[] {
  const { columns, rows } = overview;
  const rowsHeld = largestRun(blocks, (b) => Math.floor(b / columns), rows);
  const main = new Set(largestRun(rowsHeld, (b) => b % columns, columns).keys());
  const box = trimmedBox(main, columns, rows);
  const turned = facts.orientation.rotationDeg === 90 || facts.orientation.rotationDeg === 270;
  const width = box.x1 - box.x0;
  const height = box.y1 - box.y0;
  const filled = fillOf(main, box, columns);
  // "Down the screen" is along the upright y axis, whichever coded axis that is.
  const along = turned ? width : height;
  const picture = turned ? columns : rows;
  if (along < 0.3 * picture || filled < 0.6) {
    // Blocks at the rim change in part only: lines that never change would pass for lines that change late.
    const isWhole = filled >= 0.6 && width >= LEAST_INSET_BLOCKS && height >= LEAST_INSET_BLOCKS;
    const inner = isWhole ? { x0: box.x0 + 1, y0: box.y0 + 1, x1: box.x1 - 1, y1: box.y1 - 1 } : box;
    return [{ name: 'screen', role: 'screen', ...blockRect(inner, overview, facts) }];
  }
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

/**
 * The blocks of the longest run of well-filled rows (or columns) where it holds most of them: without the screen's
 * mirror image in the bench.
 */
function largestRun(
  blocks: FollowingBlocks,
  lineOf: (block: number) => number,
  lines: number,
): FollowingBlocks {
  const counts = new Float64Array(lines);
  const changes = new Float64Array(lines);
  for (const [b, codes] of blocks) {
    counts[lineOf(b)]!++;
    changes[lineOf(b)]! += codes;
  }
  const most = (values: Float64Array) => values.reduce((a, b) => Math.max(a, b), 0);
  const [mostBlocks, mostChange] = [most(counts), most(changes)];
  const isFilled = (line: number) =>
    counts[line]! >= LEAST_FILLED * mostBlocks && changes[line]! >= LEAST_CHANGE * mostChange;
  let best = { from: 0, to: lines, held: 0 };
  for (let from = 0; from < lines; from++) {
    let held = 0;
    let to = from;
    while (to < lines && isFilled(to)) held += counts[to++]!;
    if (held > best.held) best = { from, to, held };
    from = Math.max(from, to);
  }
  if (best.held < RUN_SHARE * blocks.size) return blocks;
  return new Map([...blocks].filter(([b]) => lineOf(b) >= best.from && lineOf(b) < best.to));
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

function blockRectCoded(box: BlockBox, overview: Overview, facts: ClipFacts): PixelRect {
  const sx = facts.codedWidth / overview.columns;
  const sy = facts.codedHeight / overview.rows;
  const x = Math.ceil(box.x0 * sx);
  const y = Math.ceil(box.y0 * sy);
  return { x, y, width: Math.floor(box.x1 * sx) - x, height: Math.floor(box.y1 * sy) - y };
}
