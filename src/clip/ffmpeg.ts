/**
 * The one module that finds and runs FFmpeg. Nothing else in lagreel starts a process or names the binary (single
 * output jobs go through `encode.ts` on the same footing). FFmpeg is an outside program behind pipes: no shell, a
 * bounded memory of its messages, limits on silence and memory, and no way out that leaves a child behind.
 */
import { spawn } from 'node:child_process';
import type { Readable } from 'node:stream';
import { AnalysisError } from '../errors.js';
import { childEnvironment, guard, release } from './childGuard.js';
import { WATCH_LIMITS, type WatchLimits, watchChild } from './childWatch.js';
import { type Environment, findFfmpeg } from './findFfmpeg.js';

export {
  type FfmpegBuild,
  type FfmpegMark,
  type FfmpegOrigin,
  ffmpegMark,
  findFfmpeg,
} from './findFfmpeg.js';

/** The name of the n-th output pipe (from 0) in FFmpeg's arguments: `pipe:1`, then `pipe:3`, `pipe:4`, ... */
export function outputPipe(index: number): string {
  return `pipe:${index === 0 ? 1 : index + 2}`;
}

/** One run of FFmpeg. */
export interface FfmpegRun {
  /** Everything after the program's name; `-nostdin` and quiet banners are put in front. */
  readonly args: readonly string[];
  /** One a pipe of `outputPipe`, called with each piece as it comes. False ends the run early. */
  readonly onOutput: readonly ((piece: Buffer) => boolean | undefined)[];
  /** Each whole line of FFmpeg's messages. */
  readonly onMessage?: (line: string) => void;
  readonly signal?: AbortSignal | undefined;
  /** What the run may take; default `WATCH_LIMITS`. */
  readonly limits?: WatchLimits;
}

/** How a run ended. */
export interface FfmpegEnd {
  /** null where it was ended by a signal. */
  readonly exitCode: number | null;
  /** True where `onOutput` asked for the end. */
  readonly stopped: boolean;
  /** First and last 8 kB of the messages. */
  readonly messages: string;
}

const MESSAGES_KEPT = 8192;

/**
 * Runs FFmpeg with any number of output pipes. What `onOutput` throws is rethrown, an abort rejects with the
 * signal's reason, a run over its limits with an AnalysisError; in each case the promise settles only when the process is gone. Back-pressure is the pipe's
 * own: `onOutput` works synchronously, and while it works nothing is read.
 */
export async function runFfmpeg(run: FfmpegRun, env?: Environment): Promise<FfmpegEnd> {
  run.signal?.throwIfAborted();
  const build = await findFfmpeg(env);
  run.signal?.throwIfAborted();
  const extraPipes = Array.from({ length: Math.max(0, run.onOutput.length - 1) }, () => 'pipe' as const);
  const child = spawn(build.path, ['-hide_banner', '-nostdin', '-nostats', ...run.args], {
    shell: false,
    windowsHide: true,
    stdio: ['ignore', run.onOutput.length > 0 ? 'pipe' : 'ignore', 'pipe', ...extraPipes],
    env: childEnvironment(),
  });
  return new Promise<FfmpegEnd>((resolve, reject) => {
    let failure: { readonly cause: unknown } | null = null;
    let stopped = false;
    let ending = false;
    const end = () => {
      ending = true;
      child.kill('SIGKILL');
    };
    const onAbort = () => {
      failure ??= { cause: run.signal?.reason };
      end();
    };
    const onTrouble = (cause: AnalysisError) => {
      failure ??= { cause };
      end();
    };
    const watch = watchChild(child, onTrouble, run.limits ?? WATCH_LIMITS);
    run.onOutput.forEach((onPiece, index) => {
      const pipe = child.stdio[index === 0 ? 1 : index + 2] as Readable;
      pipe.on('error', () => {}); // A pipe that breaks is told by the exit code.
      pipe.on('data', (piece: Buffer) => {
        watch.heard();
        if (ending) return;
        try {
          if (onPiece(piece) === false) {
            stopped = true;
            end();
          }
        } catch (cause) {
          failure ??= { cause };
          end();
        }
      });
    });
    const messages = messageKeeper(run.onMessage);
    child.stderr?.on('data', (piece: Buffer) => {
      watch.heard();
      messages.add(piece);
    });
    child.once('error', (cause) => {
      failure ??= {
        cause: new AnalysisError(
          'decoder-failed',
          `FFmpeg could not be started: ${cause.message}.`,
          {},
          cause,
        ),
      };
      if (child.pid === undefined) settle(null);
    });
    child.once('close', (code) => settle(code));
    function settle(exitCode: number | null): void {
      run.signal?.removeEventListener('abort', onAbort);
      watch.stop();
      release(child);
      if (failure !== null) reject(failure.cause);
      else resolve({ exitCode, stopped, messages: messages.text() });
    }
    guard(child);
    if (run.signal?.aborted) onAbort();
    else run.signal?.addEventListener('abort', onAbort, { once: true });
  });
}

/** Keeps the first and the last 8 kB of a text and hands out whole lines. */
function messageKeeper(onLine?: (line: string) => void) {
  let head = '';
  let tail = '';
  let line = '';
  return {
    add(piece: Buffer): void {
      const text = piece.toString('utf8');
      const room = MESSAGES_KEPT - head.length;
      head += text.slice(0, Math.max(0, room));
      tail = (tail + text.slice(Math.max(0, room))).slice(-MESSAGES_KEPT);
      if (onLine === undefined) return;
      const lines = (line + text).split(/[\r\n]+/);
      line = (lines.pop() ?? '').slice(-MESSAGES_KEPT);
      for (const whole of lines) if (whole !== '') onLine(whole);
    },
    text: (): string => (tail === '' ? head : `${head}\n[...]\n${tail}`),
  };
}
