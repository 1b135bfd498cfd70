/** A watch over a child process that reads a stranger's file: it is ended where it stalls or takes too much memory. */
import type { ChildProcess } from 'node:child_process';
import { readFile } from 'node:fs/promises';
import { AnalysisError } from '../errors.js';

/** What a child may take. */
export interface WatchLimits {
  /** Longest silence (no output, no message), s. Time in which the reader is busy with the last output is not counted. */
  readonly stallS: number;
  /** Resident memory, bytes. Watched where `/proc` tells it (Linux); elsewhere the limits on the input stand alone. */
  readonly memoryBytes: number;
}

/**
 * Far above what a camera's clip needs on a slow machine: 4K at 10 bits takes about 1 GB on 16 threads, and a frame
 * some hundred ms. Judgement.
 */
export const WATCH_LIMITS: WatchLimits = { stallS: 120, memoryBytes: 3 * 2 ** 30 };

const LOOK_EVERY_MS = 500;

/** The hold on one watched child. */
export interface ChildWatch {
  /** The child gave a sign of life. */
  readonly heard: () => void;
  /** Ends the watch. */
  readonly stop: () => void;
}

/**
 * Watches a child until `stop`. A machine that sleeps, or a reader that blocks, counts as no time: only looks at the
 * child are counted, and after each block there is one.
 * @param onTrouble told once, with the error; it must end the child.
 * @param readerBusy true while the child waits for its reader.
 */
export function watchChild(
  child: ChildProcess,
  onTrouble: (error: AnalysisError) => void,
  limits: WatchLimits = WATCH_LIMITS,
  readerBusy: () => boolean = () => false,
): ChildWatch {
  let silentLooks = 0;
  let stopped = false;
  const stop = () => {
    stopped = true;
    clearInterval(timer);
  };
  const trouble = (what: string) => {
    if (stopped) return;
    stop();
    onTrouble(
      new AnalysisError(
        'decoder-failed',
        `FFmpeg ${what} while reading the clip and was stopped; the file may be damaged or made to harm: copy it again from the camera.`,
      ),
    );
  };
  const timer = setInterval(() => {
    if (readerBusy()) silentLooks = 0;
    else if (++silentLooks * LOOK_EVERY_MS >= limits.stallS * 1000) {
      trouble(`gave no sign of life for ${limits.stallS} s`);
      return;
    }
    residentBytes(child).then((bytes) => {
      if (bytes > limits.memoryBytes)
        trouble(`took more than ${(limits.memoryBytes / 2 ** 20).toFixed(0)} MB of memory`);
    });
  }, LOOK_EVERY_MS);
  timer.unref();
  return {
    heard: () => {
      silentLooks = 0;
    },
    stop,
  };
}

/** Resident memory of a process; 0 where the system does not tell. */
async function residentBytes(child: ChildProcess): Promise<number> {
  try {
    const status = await readFile(`/proc/${child.pid}/status`, 'latin1');
    return Number(/^VmRSS:\s+(\d+) kB/m.exec(status)?.[1] ?? 0) * 1024;
  } catch {
    return 0;
  }
}
