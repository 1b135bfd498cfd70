/** A clip file as a `FrameSource`: one FFmpeg pass a reading, luma exactly as coded, each frame with its own time. */
import { AnalysisError, expected } from '../errors.js';
import { MAX_SAMPLES } from './boxes.js';
import { checkUnchanged, fileState, inputArguments } from './clipFile.js';
import { copyRect, planCuts } from './cropPlan.js';
import { runFluentToBytes } from './encode.js';
import { findFfmpeg, outputPipe, runFfmpeg } from './ffmpeg.js';
import {
  type ClipFacts,
  type FrameSource,
  type FrameTimes,
  type LumaPlane,
  type OnFrame,
  type PixelRect,
  type ReadOptions,
  type StillPicture,
  uprightSize,
} from './frameSource.js';
import { PlaneQueue, TickQueue } from './planeQueue.js';
import { readFacts } from './readFacts.js';
import { ignoresEdits } from './uprightFilters.js';

const PROGRESS_EVERY_MS = 100;
/**
 * Leaves out the colour planes where codec and build can (H.264, MPEG-4 and MJPEG in builds with --enable-gray; others
 * take no notice). Luma never depends on colour in these codecs: tests/clip/lumaOnly.test.ts compares every pixel.
 * Saves about a tenth of the decoder's time.
 */
const LUMA_ONLY = ['-flags', '+gray'];

/**
 * Opens a clip.
 * @throws AnalysisError, see `readFacts`; each reading also where the file changed since, or its pictures change their
 *   size on the way.
 */
export async function openClip(path: string, signal?: AbortSignal): Promise<FrameSource> {
  const state = await fileState(path);
  const facts = await readFacts(path, signal);
  await checkUnchanged(path, state, facts.file);
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
    readRects: (rects, onFrame, options) => ofSameFile(readRects(path, facts, rects, onFrame, options)),
    readOverview: (maxWidth, onFrame, options) =>
      ofSameFile(readOverview(path, facts, maxWidth, onFrame, options)),
    readStill: (mediaS, maxWidth) => ofSameFile(readStill(path, facts, mediaS, maxWidth)),
  };
}

function readRects(
  path: string,
  facts: ClipFacts,
  rects: readonly PixelRect[],
  onFrame: OnFrame,
  options: ReadOptions = {},
): Promise<FrameTimes> {
  if (rects.length === 0) throw expected('rects', 'one rectangle or more', 'none');
  for (const [index, rect] of rects.entries()) checkRect(rect, index, facts);
  const plan = planCuts(rects, facts);
  const planes = rects.map((rect) => newPlane(rect.width * rect.height, facts.bitDepth));
  // A part that is just the rectangle is handed over as it is.
  const isWhole = rects.map((_, k) => plan.cuts[plan.cutOf[k]!]!.bytes === planes[k]!.byteLength);
  return readPass(path, facts, plan.cuts, options, (index, parts) => {
    rects.forEach((rect, k) => {
      const cut = plan.cutOf[k]!;
      if (isWhole[k]) planes[k] = parts[cut]!;
      else copyRect(parts[cut]!, plan.cuts[cut]!.rect, rect, planes[k]!);
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

/**
 * The one pass. Each part has a pipe, and a tiny crop's framecrc lines carry the timestamps: with the stream's own
 * time base given (the default would round to the nominal rate) they are the container's integers.
 *
 * Nothing can deadlock: FFmpeg writes the pipes in turn, and each pipe is read whenever it has something, into
 * queues. Those stay short because a full pipe holds FFmpeg (and with it the other pipes) back.
 */
async function readPass(
  path: string,
  facts: ClipFacts,
  parts: readonly { readonly filter: string; readonly bytes: number }[],
  options: ReadOptions,
  onParts: OnFrame,
): Promise<FrameTimes> {
  const { supportsFpsMode } = await findFfmpeg();
  const everyFrame = supportsFpsMode ? ['-fps_mode', 'passthrough'] : ['-vsync', '0'];
  const base = `${facts.timeBase[0]}/${facts.timeBase[1]}`;
  const output = (filter: string, pipe: number, ...format: string[]) => [
    '-map',
    '0:V:0',
    ...everyFrame,
    '-vf',
    filter,
    ...format,
    '-flush_packets',
    '1',
    outputPipe(pipe),
  ];
  const args = [
    // Each damaged frame has its line; folding repeats would lose the count. A change of the size is told as well.
    '-loglevel',
    'repeat+verbose',
    '-copyts',
    '-noautorotate',
    ...LUMA_ONLY,
    ...(ignoresEdits(facts) ? ['-ignore_editlist', '1'] : []),
    ...inputArguments(path),
    ...parts.flatMap((part, pipe) => output(part.filter, pipe, '-f', 'rawvideo')),
    ...output(timesFilter(facts), parts.length, '-enc_time_base', base, '-f', 'framecrc'),
  ];
  const queues = parts.map((part) => new PlaneQueue(part.bytes));
  const ticks = new TickQueue();
  let times = new Float64Array(1024);
  let frames = 0;
  let concealed = 0;
  let otherSize: string | null = null;
  let progressAt = 0;

  const deliver = (): boolean | undefined => {
    if (otherSize !== null) throw sizeChanges(facts, otherSize);
    while (ticks.length > 0 && queues.every((queue) => queue.length > 0)) {
      if (frames >= MAX_SAMPLES) throw tooLong(facts);
      if (frames === times.length) {
        const grown = new Float64Array(times.length * 2);
        grown.set(times);
        times = grown;
      }
      times[frames] = ticks.shift()!;
      const buffers = queues.map((queue) => queue.shift()!);
      const planes = buffers.map((bytes) => (facts.bitDepth > 8 ? new Uint16Array(bytes.buffer) : bytes));
      const answer = onParts(frames, planes);
      frames++;
      for (const [k, buffer] of buffers.entries()) queues[k]!.recycle(buffer);
      if (options.onProgress !== undefined && performance.now() - progressAt >= PROGRESS_EVERY_MS) {
        progressAt = performance.now();
        options.onProgress(frames);
      }
      if (answer === false) return false;
    }
    return undefined;
  };
  const end = await runFfmpeg({
    args,
    onOutput: [...queues, ticks].map((queue) => (piece: Buffer) => {
      queue.push(piece);
      return deliver();
    }),
    onMessage: (line) => {
      if (/concealing \d+ DC|Could not find ref with POC/.test(line)) concealed++;
      const [, width, height] = /crop.* w:(\d+) h:(\d+) sar:\S+ -> w:/.exec(line) ?? [];
      if (width !== undefined && (Number(width) !== facts.codedWidth || Number(height) !== facts.codedHeight))
        otherSize ??= `${width} x ${height}`;
    },
    signal: options.signal,
  });
  if (otherSize !== null) throw sizeChanges(facts, otherSize);
  if (!end.stopped) checkEnd(facts, end.exitCode, end.messages, frames, ticks.timeBase === base);
  options.onProgress?.(frames);
  const lost = end.stopped || facts.declaredFrames === null ? 0 : Math.max(0, facts.declaredFrames - frames);
  return {
    ptsTicks: times.slice(0, frames),
    timeBase: facts.timeBase,
    stoppedEarly: end.stopped,
    damagedFrames: concealed + lost,
  };
}

/** FFmpeg would crop and stretch the other pictures without a word, and other pixels would pass for the region's. */
function sizeChanges({ file, codedWidth, codedHeight }: ClipFacts, other: string): AnalysisError {
  return new AnalysisError(
    'clip-unreadable',
    `${file} changes the size of its pictures on the way (${codedWidth} x ${codedHeight}, then ${other}); give the camera's own file.`,
  );
}

function tooLong({ file }: ClipFacts): AnalysisError {
  return new AnalysisError('clip-unreadable', `${file} has more than ${MAX_SAMPLES} frames; cut it shorter.`);
}

function checkEnd(
  facts: ClipFacts,
  exitCode: number | null,
  messages: string,
  frames: number,
  baseKept: boolean,
) {
  const tail = messages.split('\n').slice(-8).join('\n').slice(-1000);
  if (exitCode !== 0) {
    throw new AnalysisError(
      'decoder-failed',
      `FFmpeg could not decode ${facts.file} to its end (it stopped after ${frames} frames); copy the clip again from the camera.`,
      { exitCode, tail },
    );
  }
  if (frames === 0) {
    throw new AnalysisError(
      'clip-unreadable',
      `No frame of ${facts.file} can be decoded; copy it again from the camera.`,
      { tail },
    );
  }
  if (frames === 1) {
    throw new AnalysisError(
      'not-a-clip',
      `${facts.file} holds a single picture; give a clip with many frames.`,
    );
  }
  if (!baseKept)
    throw new AnalysisError('decoder-failed', 'FFmpeg changed the time base of the timestamps.', { tail });
}

/** The smallest picture that every build can make: its checksum lines carry the times. */
function timesFilter(facts: ClipFacts): string {
  const side = Math.min(4, facts.codedWidth, facts.codedHeight);
  return `crop=${side}:${side}:0:0,extractplanes=y`;
}

function newPlane(pixels: number, bitDepth: number): LumaPlane {
  return bitDepth > 8 ? new Uint16Array(pixels) : new Uint8Array(pixels);
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

async function readStill(
  path: string,
  facts: ClipFacts,
  mediaS: number,
  maxWidth: number,
): Promise<StillPicture> {
  if (!Number.isFinite(mediaS) || mediaS < 0) throw expected('mediaS', 'a time from 0, in seconds', mediaS);
  if (!Number.isInteger(maxWidth) || maxWidth < 1)
    throw expected('maxWidth', 'a whole number from 1', maxWidth);
  const upright = uprightSize(facts);
  const width = Math.min(maxWidth, upright.width);
  const height = Math.max(1, Math.round((upright.height * width) / upright.width));
  // FFmpeg gives the first frame at or after the time; half a period earlier makes it the nearest.
  const seekS = Math.max(0, mediaS - 0.5 / (facts.nominalRateHz ?? 60));
  const input = inputArguments(path);
  const bytes = await runFluentToBytes(
    (command) =>
      command
        .input(input.at(-1)!)
        .inputOptions('-nostdin', '-hide_banner', ...input.slice(0, -2))
        .inputOptions(...(ignoresEdits(facts) ? ['-ignore_editlist', '1'] : ['-ss', seekS.toFixed(6)]))
        .outputOptions('-map', '0:V:0')
        .outputOptions(...(ignoresEdits(facts) ? ['-ss', seekS.toFixed(6)] : ['-an']))
        .outputOptions('-vf', `scale=${width}:${height}:flags=area`)
        .outputOptions('-pix_fmt', 'rgb24')
        .outputOptions('-frames:v', '1')
        .format('rawvideo'),
    width * height * 3,
  );
  if (bytes.length !== width * height * 3)
    throw expected('mediaS', 'a time inside the clip, in seconds', mediaS);
  return { width, height, rgb: new Uint8Array(bytes) };
}
