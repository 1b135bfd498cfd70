/** Where clips are measured: in this process one by one, or in worker processes, one clip at a time in each. */
import { type ChildProcess, fork } from 'node:child_process';
import { basename } from 'node:path';
import { fileURLToPath } from 'node:url';
import { packageFolder } from '../packageFolder.js';
import { plainText } from '../report/plainText.js';
import {
  type ClipDone,
  type ClipFailed,
  type ClipJob,
  type MeasureSettings,
  measureOne,
} from './measureOne.js';
import type { Terminal } from './terminal.js';

/** Measures one clip at a time. */
export interface Lane {
  /** Rejects with the signal's reason when stopped, once no process is left; and with what is a fault of lagreel. */
  readonly measure: (job: ClipJob) => Promise<ClipDone | ClipFailed>;
  readonly close: () => Promise<void>;
}

/** What is sent to a worker: the settings first, then clips. */
export type ToWorker = { readonly settings: MeasureSettings } | { readonly job: ClipJob };

/** What a worker answers: words for the terminal, and how a clip ended. */
export type FromWorker =
  | { readonly words: string }
  | { readonly ended: ClipDone | ClipFailed }
  | { readonly fault: string };

// Of the built program, also where the source itself runs (tests).
const WORKER = fileURLToPath(new URL('dist/program/measureWorker.js', packageFolder));
/** A worker that is asked to stop has as long; then it is ended. It may be deep in a calculation. */
const GRACE_MS = 1500;
/** Within this a signal to the whole group has come to this process, too. */
const HEARING_MS = 500;

/** Measures in this process, with a progress line. */
export function laneInThisProcess(settings: MeasureSettings, terminal: Terminal, signal: AbortSignal): Lane {
  return {
    measure: (job) => measureOne(job, settings, terminal, { signal, quiet: false }),
    close: async () => undefined,
  };
}

/** So many worker processes, each started with its first clip. Memory grows with them, not with the clips. */
export function workerLanes(
  count: number,
  settings: MeasureSettings,
  terminal: Terminal,
  signal: AbortSignal,
): readonly Lane[] {
  const told = new Set<string>();
  const say = (words: string) => {
    // Every worker finds the same trouble with the cache; once is enough.
    if (!told.has(words)) terminal.err(words);
    told.add(words);
  };
  return Array.from({ length: count }, () => workerLane(settings, say, signal));
}

function workerLane(settings: MeasureSettings, say: (words: string) => void, signal: AbortSignal): Lane {
  let worker: ChildProcess | null = null;
  const started = (): ChildProcess => {
    if (worker?.connected) return worker;
    worker = fork(WORKER, [], { execArgv: [], stdio: ['ignore', 'ignore', 'inherit', 'ipc'] });
    send(worker, { settings });
    return worker;
  };
  return {
    measure: (job) => measureIn(started(), job, say, signal),
    close: async () => {
      const last = worker;
      if (last === null || last.exitCode !== null || last.signalCode !== null) return;
      const gone = new Promise<void>((resolve) => last.once('exit', () => resolve()));
      if (last.connected) last.disconnect();
      const timer = setTimeout(() => last.kill('SIGKILL'), GRACE_MS);
      await gone.finally(() => clearTimeout(timer));
    },
  };
}

function measureIn(
  worker: ChildProcess,
  job: ClipJob,
  say: (words: string) => void,
  signal: AbortSignal,
): Promise<ClipDone | ClipFailed> {
  return new Promise((resolve, reject) => {
    let timer: NodeJS.Timeout | undefined;
    const end = (settle: () => void) => {
      clearTimeout(timer);
      signal.removeEventListener('abort', stop);
      worker.off('message', hear).off('exit', leave).off('error', reject);
      settle();
    };
    const stop = () => {
      worker.kill('SIGTERM');
      timer = setTimeout(() => worker.kill('SIGKILL'), GRACE_MS);
    };
    const die = (code: number | null, by: string | null, isSettled = false): void => {
      if (signal.aborted) {
        end(() => reject(signal.reason));
        return;
      }
      // Ctrl-C reaches every process of the group, and a worker that is only starting dies of it before we hear.
      if (!isSettled && (by === 'SIGINT' || by === 'SIGTERM')) {
        setTimeout(() => die(code, by, true), HEARING_MS);
        return;
      }
      // One clip that brings its process down must not take the night's run with it.
      const how = by === null ? `ended with code ${code}` : `was ended by ${by}`;
      const name = plainText(basename(job.clip));
      const error = `${name}: the process that measured it ${how}: measure it again, with fewer --jobs where memory is short`;
      end(() => resolve({ error, exitCode: 1 }));
    };
    const leave = (code: number | null, by: string | null) => die(code, by);
    const hear = (message: FromWorker) => {
      if ('words' in message) say(message.words);
      else if ('ended' in message) end(() => resolve(message.ended));
      else end(() => reject(faultOf(message.fault)));
    };
    worker.on('message', hear).once('exit', leave).once('error', reject);
    if (signal.aborted) stop();
    else signal.addEventListener('abort', stop, { once: true });
    send(worker, { job });
  });
}

function send(worker: ChildProcess, message: ToWorker): void {
  // A worker that died meanwhile is told by its `exit`.
  worker.send(message, () => undefined);
}

function faultOf(stack: string): Error {
  const error = new Error(stack.split('\n')[0]);
  error.stack = stack;
  return error;
}
