/** A clip file as a `FrameSource`: one FFmpeg pass a reading, luma exactly as coded, each frame with its own time. */
import { AnalysisError, expected } from '../errors.js';
import { checkUnchanged, fileState } from './clipFile.js';
import { copyRect, planCuts, planeFor } from './cropPlan.js';
import type {
  ClipFacts,
  FrameSource,
  FrameTimes,
  LumaPlane,
  OnFrame,
  PixelRect,
  ReadOptions,
  ReadRect,
} from './frameSource.js';
import { readFacts } from './readFacts.js';
import { readPass } from './readPass.js';
import { readStill } from './readStill.js';

/**
 * Opens a clip.
 * @throws AnalysisError, see `readFacts`; each reading also where the file changed since, or its pictures change their
 *   size on the way.
 */
export async function openClip(path: string, signal?: AbortSignal): Promise<FrameSource> {
  const state = await fileState(path);
  const facts = await readFacts(path, signal);
  await checkUnchanged(path, state, facts.file);
  return reopenClip(path, facts, state);
}

/**
 * A clip whose facts are known, without reading it.
 * @param state of the file when its facts were read, see `fileState`; a reading rejects where it is another one by now.
 */
export function reopenClip(path: string, facts: ClipFacts, state: string): FrameSource {
  /** What was read of a file that changed meanwhile is worth nothing, whether it came to an end or not. */
  const ofSameFile = async <T>(reading: Promise<T>): Promise<T> => {
    const [end] = await Promise.allSettled([reading]);
    const failure = end.status === 'rejected' ? { cause: end.reason as unknown } : null;
    if (failure === null || failure.cause instanceof AnalysisError)
      await checkUnchanged(path, state, facts.file);
    if (end.status === 'fulfilled') return end.value;
    throw failure?.cause;
  };
  return {
    facts,
    skipsRows: true,
    readRects: (rects, onFrame, options) => ofSameFile(readRects(path, facts, rects, onFrame, options)),
    readOverview: (maxWidth, onFrame, options) =>
      ofSameFile(readOverview(path, facts, maxWidth, onFrame, options)),
    readStill: (mediaS, maxWidth) => ofSameFile(readStill(path, facts, mediaS, maxWidth)),
  };
}

function readRects(
  path: string,
  facts: ClipFacts,
  rects: readonly ReadRect[],
  onFrame: OnFrame,
  options: ReadOptions = {},
): Promise<FrameTimes> {
  if (rects.length === 0) throw expected('rects', 'one rectangle or more', 'none');
  for (const [index, rect] of rects.entries()) checkRect(rect, index, facts);
  const plan = planCuts(rects, facts);
  const planes = rects.map((rect) => planeFor(rect, facts.bitDepth));
  // A part that is just the rectangle is handed over as it is.
  const isWhole = rects.map((_, k) => plan.cuts[plan.cutOf[k]!]!.bytes === planes[k]!.byteLength);
  return readPass(path, facts, plan.cuts, options, (index, parts) => {
    rects.forEach((rect, k) => {
      const cut = plan.cutOf[k]!;
      if (isWhole[k]) planes[k] = parts[cut]!;
      else copyRect(parts[cut]!, plan.cuts[cut]!, rect, planes[k]!);
    });
    return onFrame(index, planes);
  });
}

function readOverview(
  path: string,
  facts: ClipFacts,
  maxWidth: number,
  onFrame: (index: number, plane: LumaPlane, width: number, height: number) => boolean | undefined,
  options: ReadOptions = {},
): Promise<FrameTimes> {
  if (!Number.isInteger(maxWidth) || maxWidth < 1)
    throw expected('maxWidth', 'a whole number from 1', maxWidth);
  const width = Math.min(maxWidth, facts.codedWidth);
  const height = Math.max(1, Math.round((facts.codedHeight * width) / facts.codedWidth));
  const cut = {
    // Both ranges are named alike, or old builds stretch 10-bit grey from limited to full range.
    filter: `extractplanes=y,scale=${width}:${height}:flags=area:in_range=full:out_range=full`,
    bytes: width * height * (facts.bitDepth > 8 ? 2 : 1),
  };
  return readPass(path, facts, [cut], options, (index, [plane]) => onFrame(index, plane!, width, height));
}

function checkRect(rect: PixelRect, index: number, facts: ClipFacts): void {
  const { x, y, width, height } = rect;
  const whole = [x, y, width, height].every((value) => Number.isInteger(value));
  const inside =
    whole &&
    x >= 0 &&
    y >= 0 &&
    width >= 1 &&
    height >= 1 &&
    x + width <= facts.codedWidth &&
    y + height <= facts.codedHeight;
  if (inside) return;
  throw expected(
    `rects[${index}]`,
    `whole pixels inside the coded picture of ${facts.codedWidth} x ${facts.codedHeight}`,
    `x ${x}, y ${y}, ${width} x ${height}`,
  );
}
