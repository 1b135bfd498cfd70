/** A clip file as a `FrameSource`: one FFmpeg pass a reading, luma exactly as coded, each frame with its own time. */
import { stat } from 'node:fs/promises';
import { basename } from 'node:path';
import { AnalysisError, expected } from '../errors.js';
import { checkUnchanged, fileState, identifyClip, printable } from './clipFile.js';
import { copyRect, planCuts, planeFor } from './cropPlan.js';
import { decodedAlike } from './decodeThreads.js';
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
import { hashAside } from './hashAside.js';
import { readFacts } from './readFacts.js';
import { readPass } from './readPass.js';
import { readStill } from './readStill.js';

/** Which clip a file is taken for. */
export type ExpectedClip = Pick<ClipFacts, 'sha256' | 'bytes'>;

/** A place where facts of clips are kept. */
export interface FactsStore {
  /** Facts as they would be read, of a file of that name with that content; null where they are not there, or not sound. */
  read(clip: ExpectedClip & Pick<ClipFacts, 'file'>): Promise<ClipFacts | null>;
  keep(facts: ClipFacts): Promise<void>;
}

/** A file turned out to be another one than it was taken for. */
export class AnotherClip extends Error {
  override readonly name = 'AnotherClip';
}

/**
 * Opens a clip.
 * @param takenFor which clip it most likely is. If it has that size it is taken for it until its checksum is worked
 *   out beside all else, see `FrameSource.confirmed`. Left out: the checksum comes first.
 * @param kept may know the facts of the clip that it is taken for; nobody looks into the file for them then.
 * @throws AnalysisError, see `readFacts`; each reading also where the file changed since, or its pictures change their
 *   size on the way.
 */
export async function openClip(
  path: string,
  signal?: AbortSignal,
  takenFor?: ExpectedClip,
  kept?: FactsStore,
): Promise<FrameSource> {
  const state = await fileState(path);
  const taken = takenFor && (await sizeOf(path)) === takenFor.bytes ? takenFor : null;
  // Where there is no thread to be had, or not the worker's program (it is compiled first), here.
  const hashing =
    taken && hashAside(path, signal).catch(async () => (await identifyClip(path, signal)).sha256);
  // Whoever asks for it hears of a failure.
  hashing?.catch(() => undefined);
  const known = taken && kept ? await kept.read({ ...taken, file: printable(basename(path)) }) : null;
  const facts = known ?? (await readFacts(path, signal, taken?.sha256));
  await checkUnchanged(path, state, facts.file);
  if (!hashing) return reopenClip(path, facts, state);
  return reopenClip(path, facts, state, async () => {
    const sha256 = await hashing;
    await checkUnchanged(path, state, facts.file);
    if (sha256 !== facts.sha256) throw new AnotherClip(`${facts.file} is not the clip it was`);
  });
}

async function sizeOf(path: string): Promise<number | null> {
  return (await stat(path).catch(() => null))?.size ?? null;
}

/**
 * A clip whose facts are known, without reading it.
 * @param state of the file when its facts were read, see `fileState`; a reading rejects where it is another one by now.
 * @param confirmed see `FrameSource`; nothing is read before.
 */
export function reopenClip(
  path: string,
  facts: ClipFacts,
  state: string,
  confirmed?: () => Promise<void>,
): FrameSource {
  /** What was read of a file that changed meanwhile is worth nothing, whether it came to an end or not. */
  const ofSameFile = async <T>(read: () => Promise<T>): Promise<T> => {
    await confirmed?.();
    const [end] = await Promise.allSettled([read()]);
    const failure = end.status === 'rejected' ? { cause: end.reason as unknown } : null;
    if (failure === null || failure.cause instanceof AnalysisError)
      await checkUnchanged(path, state, facts.file);
    if (end.status === 'fulfilled') return end.value;
    throw failure?.cause;
  };
  return {
    facts,
    ...(confirmed ? { confirmed } : {}),
    skipsRows: true,
    readRects: (rects, onFrame, options) => ofSameFile(() => readRects(path, facts, rects, onFrame, options)),
    readOverview: (maxWidth, onFrame, options) =>
      ofSameFile(() => readOverview(path, facts, maxWidth, onFrame, options)),
    readStill: (mediaS, maxWidth) => ofSameFile(() => readStill(path, facts, mediaS, maxWidth)),
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
  const deliver: OnFrame = (index, parts) => {
    rects.forEach((rect, k) => {
      const cut = plan.cutOf[k]!;
      if (isWhole[k]) planes[k] = parts[cut]!;
      else copyRect(parts[cut]!, plan.cuts[cut]!, rect, planes[k]!);
    });
    return onFrame(index, planes);
  };
  return decodedAlike((threads) => readPass(path, facts, plan.cuts, options, deliver, threads));
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
  return decodedAlike((threads) =>
    readPass(path, facts, [cut], options, (index, [plane]) => onFrame(index, plane!, width, height), threads),
  );
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
