/** What changes by itself in a shrunken clip, and not only with the whole picture, as at a step of exposure. */
import {
  ACTIVE_CODES,
  ACTIVE_OVER_NOISE,
  type BlockContrasts,
  contrastWindow,
  type Overview,
} from './activity.js';

/** The picture's rim: a screen seldom reaches it on all sides, a step of exposure does. */
const RIM_BLOCKS = 2;
const RIM_SHARE = 0.5;
const RIM_CODES = 2;

/**
 * The active blocks that also change while the picture's rim does not.
 * @param active `blockContrasts` of the same overview.
 */
export function changesByItself(active: BlockContrasts, overview: Overview): ReadonlySet<number> {
  const common = commonFrames(active, overview);
  if (common === null) return new Set(active.keys());
  const itself = new Set<number>();
  for (const [block, contrast] of active) {
    let most = 0;
    let sum = 0;
    let frames = 0;
    for (let k = 0; k < contrast.length; k++) {
      if (common[k] === 1) continue;
      const size = Math.abs(contrast[k]!);
      if (size > most) most = size;
      sum += size;
      frames++;
    }
    if (most >= ACTIVE_CODES && most * frames > ACTIVE_OVER_NOISE * sum) itself.add(block);
  }
  return itself;
}

/** 1 for each frame at which most of the rim changes; null where there is none. */
function commonFrames(
  active: BlockContrasts,
  { columns, rows, frames, rateHz }: Overview,
): Uint8Array | null {
  const changing = new Uint16Array(frames);
  for (const [block, contrast] of active) {
    if (!isRim(block, columns, rows)) continue;
    for (let k = 0; k < frames; k++) if (Math.abs(contrast[k]!) > RIM_CODES) changing[k]!++;
  }
  const rim = columns * rows - (columns - 2 * RIM_BLOCKS) * (rows - 2 * RIM_BLOCKS);
  if (!changing.some((n) => n > RIM_SHARE * rim)) return null;
  const common = new Uint8Array(frames);
  const reach = contrastWindow(rateHz);
  changing.forEach((n, k) => {
    if (n > RIM_SHARE * rim) common.fill(1, Math.max(0, k - reach), k + reach + 1);
  });
  return common;
}

function isRim(block: number, columns: number, rows: number): boolean {
  const x = block % columns;
  const y = Math.floor(block / columns);
  return x < RIM_BLOCKS || y < RIM_BLOCKS || x >= columns - RIM_BLOCKS || y >= rows - RIM_BLOCKS;
}
