/** One pass of FFmpeg over a clip: parts of every picture through pipes of their own, and every frame's own time. */
import { AnalysisError } from '../errors.js';
import { MAX_SAMPLES } from './boxes.js';
import { inputArguments } from './clipFile.js';
import { FrameDamaged, ONE_THREAD, tellsOfDamage } from './decodeThreads.js';
import { findFfmpeg, outputPipe, runFfmpeg } from './ffmpeg.js';
import type { ClipFacts, FrameTimes, OnFrame, ReadOptions } from './frameSource.js';
import { PlaneQueue, TickQueue } from './planeQueue.js';
import { ignoresEdits } from './uprightFilters.js';

const PROGRESS_EVERY_MS = 100;
/**
 * Leaves out the colour planes where codec and build can (H.264, MPEG-4 and MJPEG in builds with --enable-gray; others
 * take no notice). Luma never depends on colour in these codecs: tests/clip/lumaOnly.test.ts compares every pixel.
 * Saves about a tenth of the decoder's time.
 */
const LUMA_ONLY = ['-flags', '+gray'];
/** FFmpeg writes a pipe when so many bytes are there, unless it is told to write every picture at once. */
const WRITE_BYTES = 32_768;
/** What may wait for the small parts, which come many pictures at a time. */
const WAITING_BYTES = 32 * 2 ** 20;

/** A part of the picture: FFmpeg's filter chain that yields its luma, and the bytes of one picture. */
export interface PassPart {
  readonly filter: string;
  readonly bytes: number;
}

/**
 * Reads every frame once, with so many `threads` (see `decodedAlike`). Each part has a pipe, and a tiny crop's framecrc lines carry the timestamps: with the
 * stream's own time base given (the default would round to the nominal rate) they are the container's integers.
 *
 * Nothing can deadlock: FFmpeg writes the pipes in turn, and each pipe is read whenever it has something, into
 * queues. A reading costs Node about 0.1 ms whatever its size, so FFmpeg gathers pictures before it writes; where
 * other parts would pile up meanwhile, it writes each picture at once. The times are counted at the end only.
 * @throws AnalysisError `clip-unreadable`, `decoder-failed`, `not-a-clip`; FrameDamaged, see `decodedAlike`; what
 *   `onParts` throws; the signal's reason.
 */
export async function readPass(
  path: string,
  facts: ClipFacts,
  parts: readonly PassPart[],
  options: ReadOptions,
  onParts: OnFrame,
  threads: readonly string[],
): Promise<FrameTimes> {
  const { supportsFpsMode } = await findFfmpeg();
  const everyFrame = supportsFpsMode ? ['-fps_mode', 'passthrough'] : ['-vsync', '0'];
  const frameBytes = parts.reduce((sum, { bytes }) => sum + bytes, 0);
  const pileUp = (bytes: number) => (WRITE_BYTES / bytes) * (frameBytes - bytes);
  const base = `${facts.timeBase[0]}/${facts.timeBase[1]}`;
  const output = (filter: string, pipe: number, atOnce: boolean, ...format: string[]) => [
    '-map',
    '0:V:0',
    ...everyFrame,
    '-vf',
    filter,
    ...format,
    '-flush_packets',
    atOnce ? '1' : '0',
    outputPipe(pipe),
  ];
  const args = [
    // Each damaged frame has its line; folding repeats would lose the count. A change of the size is told as well.
    '-loglevel',
    'repeat+verbose',
    '-copyts',
    '-noautorotate',
    ...LUMA_ONLY,
    ...threads,
    ...(ignoresEdits(facts) ? ['-ignore_editlist', '1'] : []),
    ...inputArguments(path),
    ...parts.flatMap(({ filter, bytes }, pipe) =>
      output(filter, pipe, pileUp(bytes) > WAITING_BYTES, '-f', 'rawvideo'),
    ),
    ...output(timesFilter(facts), parts.length, false, '-enc_time_base', base, '-f', 'framecrc'),
  ];
  const queues = parts.map((part) => new PlaneQueue(part.bytes));
  const ticks = new TickQueue();
  let frames = 0;
  let hasEnough = false;
  let concealed = 0;
  /** With several threads only: with one, a damaged clip is the same each time. */
  let isDamaged = false;
  let otherSize: string | null = null;
  let progressAt = 0;

  /** False where the run may end: the caller has enough, and the times of what it got are there. */
  const deliver = (): boolean | undefined => {
    if (otherSize !== null) throw sizeChanges(facts, otherSize);
    if (isDamaged) throw new FrameDamaged(`${facts.file} is damaged`);
    while (!hasEnough && queues.every((queue) => queue.length > 0)) {
      if (frames >= MAX_SAMPLES) throw tooLong(facts);
      const buffers = queues.map((queue) => queue.shift()!);
      const planes = buffers.map((bytes) => (facts.bitDepth > 8 ? new Uint16Array(bytes.buffer) : bytes));
      hasEnough = onParts(frames, planes) === false;
      frames++;
      for (const [k, buffer] of buffers.entries()) queues[k]!.recycle(buffer);
      if (options.onProgress !== undefined && performance.now() - progressAt >= PROGRESS_EVERY_MS) {
        progressAt = performance.now();
        options.onProgress(frames);
      }
    }
    return hasEnough && ticks.length >= frames ? false : undefined;
  };
  const end = await runFfmpeg({
    args,
    onOutput: [
      ...queues.map((queue) => (piece: Buffer) => {
        if (!hasEnough) queue.push(piece);
        return deliver();
      }),
      (piece: Buffer) => {
        ticks.push(piece);
        return deliver();
      },
    ],
    onMessage: (line) => {
      isDamaged ||= threads !== ONE_THREAD && tellsOfDamage(line, facts.codec);
      if (/concealing \d+ DC|Could not find ref with POC/.test(line)) concealed++;
      const [, width, height] = /crop.* w:(\d+) h:(\d+) sar:\S+ -> w:/.exec(line) ?? [];
      if (width !== undefined && (Number(width) !== facts.codedWidth || Number(height) !== facts.codedHeight))
        otherSize ??= `${width} x ${height}`;
    },
    signal: options.signal,
  });
  if (otherSize !== null) throw sizeChanges(facts, otherSize);
  if (isDamaged) throw new FrameDamaged(`${facts.file} is damaged`);
  if (!hasEnough) {
    const timed = Math.min(frames, ticks.length);
    checkEnd(facts, end.exitCode, end.messages, timed, ticks.timeBase === base);
  }
  if (ticks.length < frames) throw untimed(facts, frames, ticks.length);
  options.onProgress?.(frames);
  const lost = hasEnough || facts.declaredFrames === null ? 0 : Math.max(0, facts.declaredFrames - frames);
  return {
    ptsTicks: ticks.all().slice(0, frames),
    timeBase: facts.timeBase,
    stoppedEarly: hasEnough,
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

function untimed({ file }: ClipFacts, frames: number, times: number): AnalysisError {
  return new AnalysisError(
    'decoder-failed',
    `FFmpeg gave ${frames} frames of ${file} but the times of only ${times}; copy the clip again from the camera.`,
  );
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
