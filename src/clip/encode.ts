/**
 * Jobs with one input and one output, through fluent-ffmpeg: films to be drawn on, and encodes of other rooms.
 * (Measuring needs several pipes at once, which fluent-ffmpeg cannot give; that is `runFfmpeg`.)
 */
import type { ChildProcess } from 'node:child_process';
import { PassThrough, Readable } from 'node:stream';
import type { FfmpegCommand } from 'fluent-ffmpeg';
import { AnalysisError } from '../errors.js';
import { childEnvironment, guard, release } from './childGuard.js';
import { WATCH_LIMITS, watchChild } from './childWatch.js';
import { findFfmpeg } from './ffmpeg.js';

/** The parts of a command that its types do not show. */
interface Inner {
  _getFfmpegPath(callback: (error: Error | null, path: string) => void): void;
  _checkCapabilities(callback: (error?: Error) => void): void;
  availableEncoders(callback: (error: Error | null, encoders: object) => void): void;
  /** Options before the callbacks may be left out. */
  _spawnFfmpeg(args: readonly string[], ...rest: readonly unknown[]): void;
  ffmpegProc?: ChildProcess;
}

/** Signs of life between a job that reads a clip and the watch over it. */
interface Reading {
  /** Told with each piece; set by the run. */
  heard: () => void;
  /** The child waits for whoever takes the pieces. */
  readerBusy: boolean;
}

/**
 * Runs one fluent-ffmpeg command that writes to a file. `describe` adds inputs, options and the output.
 * Give options as separate arguments (`outputOptions('-crf', '20')`): an array item with one space is split.
 * @throws AnalysisError `decoder-missing`, `decoder-failed`; the signal's reason when aborted.
 */
export async function runFluent(
  describe: (command: FfmpegCommand) => FfmpegCommand,
  signal?: AbortSignal,
): Promise<void> {
  await run(describe, signal, (command) => command.run());
}

/**
 * Runs one fluent-ffmpeg command and yields what it writes to its output pipe, in pieces of `pieceBytes`. FFmpeg waits
 * while nobody asks for the next piece, and is ended where the caller stops early.
 * @throws AnalysisError `decoder-missing`, `decoder-failed` (also where the last piece is cut short); the signal's reason.
 */
export async function* runFluentToPieces(
  describe: (command: FfmpegCommand) => FfmpegCommand,
  pieceBytes: number,
  signal?: AbortSignal,
): AsyncGenerator<Buffer> {
  const stop = new AbortController();
  const onAbort = () => stop.abort(signal?.reason);
  signal?.throwIfAborted();
  signal?.addEventListener('abort', onAbort, { once: true });
  const sink = new PassThrough({ emitClose: false, highWaterMark: Math.max(1 << 16, pieceBytes) });
  const reading: Reading = { heard: () => {}, readerBusy: false };
  const start = (command: FfmpegCommand) => {
    command.pipe(sink, { end: true });
  };
  const job = run(describe, stop.signal, start, reading);
  job.catch((cause) => sink.destroy(cause as Error));
  try {
    let piece = Buffer.allocUnsafe(pieceBytes);
    let filled = 0;
    for await (const chunk of sink as AsyncIterable<Buffer>) {
      reading.heard();
      for (let at = 0; at < chunk.length; ) {
        const taken = Math.min(pieceBytes - filled, chunk.length - at);
        chunk.copy(piece, filled, at, at + taken);
        filled += taken;
        at += taken;
        if (filled < pieceBytes) continue;
        reading.readerBusy = true;
        yield piece;
        reading.readerBusy = false;
        piece = Buffer.allocUnsafe(pieceBytes);
        filled = 0;
      }
    }
    await job;
    if (filled > 0) throw new AnalysisError('decoder-failed', 'FFmpeg stopped in the middle of a picture.');
  } finally {
    signal?.removeEventListener('abort', onAbort);
    stop.abort(new Error('no more pieces are wanted'));
    sink.destroy();
    await job.catch(() => undefined);
  }
}

async function run(
  describe: (command: FfmpegCommand) => FfmpegCommand,
  signal: AbortSignal | undefined,
  start: (command: FfmpegCommand) => void,
  reading?: Reading,
): Promise<void> {
  signal?.throwIfAborted();
  const { path } = await findFfmpeg();
  // Loaded with the first job: measuring needs none.
  const { default: ffmpeg } = await import('fluent-ffmpeg');
  const command = describe(ffmpeg({ stdoutLines: 100 }));
  const inner = command as unknown as Inner;
  // Its own search ignores ours and is shared by the whole process; its format check costs two more processes
  // and rejects `lavfi` of newer FFmpegs.
  inner._getFfmpegPath = (callback) => callback(null, path);
  inner._checkCapabilities = (callback) => callback();
  inner.availableEncoders = (callback) => callback(null, {});
  // Its own way hands on the whole environment, in which `FFREPORT` would make FFmpeg write files.
  const spawn = inner._spawnFfmpeg.bind(inner);
  inner._spawnFfmpeg = (args, ...rest) => {
    const [first] = rest;
    const [options, callbacks] = typeof first === 'object' ? [first, rest.slice(1)] : [{}, rest];
    spawn(args, { ...options, env: childEnvironment() }, ...callbacks);
  };
  let child: ChildProcess | undefined;
  let failure: { readonly cause: unknown } | null = null;
  const fail = (cause: unknown) => {
    failure ??= { cause };
    child?.kill('SIGKILL');
  };
  const onAbort = () => fail(signal?.reason);
  signal?.addEventListener('abort', onAbort, { once: true });
  try {
    await new Promise<void>((resolve, reject) => {
      command.once('start', () => {
        child = inner.ffmpegProc;
        if (child === undefined) return;
        guard(child);
        child.once('close', () => child !== undefined && release(child));
        if (reading !== undefined) watch(child, command, fail, reading);
        if (failure !== null) child.kill('SIGKILL');
      });
      command.once('end', () => resolve());
      command.once('error', (error: Error, _out: string | null, messages: string | null) => {
        // `error` may come before the process is gone; nobody may be left behind.
        child?.kill('SIGKILL');
        const tail = (messages ?? '').split('\n').slice(-6).join(' ').slice(-600);
        const cause = new AnalysisError(
          'decoder-failed',
          `FFmpeg failed: ${error.message.slice(0, 300)}`,
          { tail },
          error,
        );
        if (child === undefined || child.exitCode !== null || child.signalCode !== null) reject(cause);
        else child.once('close', () => reject(cause));
      });
      start(command);
    });
  } catch (cause) {
    if (failure !== null) throw (failure as { readonly cause: unknown }).cause;
    throw cause;
  } finally {
    signal?.removeEventListener('abort', onAbort);
  }
  if (failure !== null) throw (failure as { readonly cause: unknown }).cause;
}

/** A job that reads a stranger's file has no standard input, and limits on silence and memory. */
function watch(
  child: ChildProcess,
  command: FfmpegCommand,
  fail: (cause: unknown) => void,
  reading: Reading,
) {
  child.stdin?.on('error', () => {});
  child.stdin?.end();
  const { heard, stop } = watchChild(child, fail, WATCH_LIMITS, () => reading.readerBusy);
  reading.heard = heard;
  command.on('stderr', heard);
  child.once('close', stop);
}

/** What to encode, and how. */
export interface RawVideoJob {
  readonly widthPx: number;
  readonly heightPx: number;
  /** FFmpeg's name of the raw layout, for example `gray`, `yuv420p`, `yuv420p10le`, `rgb24`. */
  readonly pixelFormat: string;
  readonly rateHz: number;
  /** Whole raw pictures in order; each must stay untouched until the next is asked for. */
  readonly frames: AsyncIterable<Uint8Array> | Iterable<Uint8Array>;
  readonly outputPath: string;
  /** For example `['-c:v', 'libx264', '-qp', '0', '-pix_fmt', 'yuv420p']`. */
  readonly outputOptions: readonly string[];
  readonly signal?: AbortSignal;
}

/**
 * Encodes raw pictures to a video file, overwriting it.
 * @throws AnalysisError `decoder-missing`, `decoder-failed`; what `frames` throws; the signal's reason.
 */
export async function encodeRawVideo(job: RawVideoJob): Promise<void> {
  let broken: { readonly cause: unknown } | null = null;
  async function* copies(): AsyncGenerator<Buffer> {
    try {
      // Copied, because the pipe may still hold a picture when the next one is drawn into the same bytes.
      for await (const frame of job.frames) yield Buffer.from(frame);
    } catch (cause) {
      broken = { cause };
      throw cause;
    }
  }
  const input = Readable.from(copies(), { objectMode: false, highWaterMark: 1 << 20 });
  input.on('error', () => {}); // Reported through `broken`; the command listens too late for an early one.
  try {
    await runFluent(
      (command) =>
        command
          .input(input)
          .inputFormat('rawvideo')
          .inputOptions('-pix_fmt', job.pixelFormat)
          .inputOptions('-s:v', `${job.widthPx}x${job.heightPx}`)
          .inputOptions('-framerate', String(job.rateHz))
          .outputOptions('-hide_banner', '-an')
          .outputOptions('-y', ...job.outputOptions)
          .output(`file:${job.outputPath}`),
      job.signal,
    );
  } catch (cause) {
    if (broken !== null) throw (broken as { readonly cause: unknown }).cause;
    throw cause;
  } finally {
    input.destroy();
  }
}
