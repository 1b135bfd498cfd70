/** The server's line to the workbench process: asks it, cancels, starts it again where it had to be ended. */
import { type ChildProcess, fork } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { packageFolder } from '../../packageFolder.js';
import type { SamplesCache } from '../../samples/cacheEntries.js';
import { uncarry } from './carriedError.js';
import type { TellProgress } from './jobs.js';
import { Refusal } from './refusal.js';
import type { BenchAnswers, BenchAsk } from './workbench.js';
import type { FromBench, ToBench } from './workbenchProcess.js';

/** The line. */
export interface BenchLine {
  /** Rejects with the signal's reason once nothing is left of what was asked; else as the library does. */
  ask<A extends BenchAsk>(
    ask: A,
    options?: { readonly signal?: AbortSignal; readonly tell?: TellProgress },
  ): Promise<BenchAnswers[A['kind']]>;
  /** Process number of the workbench; null while there is none. */
  pid(): number | null;
  close(): Promise<void>;
}

interface Pending {
  readonly ask: BenchAsk;
  readonly tell: TellProgress | undefined;
  readonly resolve: (answer: BenchAnswers[BenchAsk['kind']]) => void;
  readonly reject: (error: unknown) => void;
  /** How often the process ended under it. */
  ended: number;
}

// Of the built program, also where the source itself runs (tests).
const PROGRAM = fileURLToPath(new URL('dist/program/workbenchProcess.js', packageFolder));
/** A process that hears nothing for so long is deep in a calculation: then it is ended. */
const HEARING_MS = 120;
/** One that heard has as long for its decoder and for files that it was writing. */
const GRACE_MS = 4000;
/** An ask under which the process ends again and again is at fault itself (out of memory). */
const TRIES = 2;

/** What the line needs to know. */
export interface BenchLineOptions {
  readonly cache: SamplesCache | null;
  /** Called when the process had to be ended: what it was writing is left half-written. */
  readonly afterEnd: () => Promise<unknown>;
}

/** A line; the process starts with the first ask. */
export function benchLine({ cache, afterEnd }: BenchLineOptions): BenchLine {
  const pending = new Map<number, Pending>();
  const heard = new Set<number>();
  let child: ChildProcess | null = null;
  let next = 0;
  let closed = false;

  const send = (to: ChildProcess, message: ToBench): void => {
    // One that died meanwhile is told by its `exit`.
    to.send(message, () => undefined);
  };
  function process(): ChildProcess {
    if (child) return child;
    const started = fork(PROGRAM, [], {
      execArgv: [],
      stdio: ['ignore', 'ignore', 'inherit', 'ipc'],
      serialization: 'advanced',
    });
    child = started;
    send(started, { cache: cache && { folder: cache.folder, limitBytes: cache.limitBytes } });
    started.on('message', (message: FromBench) => hear(message));
    started.on('error', (error) => lose(started, error));
    started.on('exit', () => lose(started, null));
    return started;
  }
  function hear(message: FromBench): void {
    if ('trouble' in message) cache?.onTrouble?.(message.trouble);
    else if ('heard' in message) heard.add(message.heard);
    else {
      const one = pending.get(message.id);
      if (!one) return;
      if ('stage' in message) {
        one.tell?.(message.stage, message.done, message.total);
        return;
      }
      pending.delete(message.id);
      if ('answer' in message) one.resolve(message.answer);
      else one.reject(uncarry(message.error));
    }
  }
  /** The process is gone: what was asked of it is asked of the next one. */
  function lose(gone: ChildProcess, error: Error | null): void {
    if (child !== gone) return;
    child = null;
    for (const [id, one] of [...pending]) {
      one.ended++;
      if (error === null && !closed && one.ended < TRIES) send(process(), { id, ask: one.ask });
      else {
        pending.delete(id);
        const why = error?.message ?? 'it may be short of memory';
        one.reject(new Refusal(503, `The process that measures ended (${why}): try again.`));
      }
    }
  }
  /** Sees to it that nothing of an ask is left, in the process or half-written on disk. */
  async function cutOff(id: number): Promise<void> {
    const asked = child;
    if (!asked) return;
    heard.delete(id);
    send(asked, { cancel: id });
    const until = async (done: () => boolean, mostMs: number) => {
      for (let waited = 0; waited < mostMs && !done(); waited += 10) await pause(10);
    };
    await until(() => heard.has(id) || !pending.has(id), HEARING_MS);
    if (heard.has(id)) await until(() => !pending.has(id), GRACE_MS);
    heard.delete(id);
    if (!pending.delete(id) || child !== asked) return;
    const gone = new Promise((resolve) => asked.once('exit', resolve));
    asked.kill('SIGKILL');
    await gone;
    await afterEnd().catch(() => undefined);
  }

  return {
    ask(ask, { signal, tell } = {}) {
      return new Promise((resolve, reject) => {
        if (closed || signal?.aborted) {
          reject(signal?.reason ?? new Refusal(503, 'The desk is closing.'));
          return;
        }
        const id = next++;
        const cancel = (): void => {
          const one = pending.get(id);
          if (!one) return;
          void cutOff(id).then(() => {
            pending.delete(id);
            one.reject(signal!.reason);
          });
        };
        const end = () => signal?.removeEventListener('abort', cancel);
        pending.set(id, {
          ask,
          tell,
          ended: 0,
          resolve: (answer) => {
            end();
            resolve(answer as never);
          },
          reject: (error) => {
            end();
            reject(error);
          },
        });
        signal?.addEventListener('abort', cancel, { once: true });
        send(process(), { id, ask });
      });
    },
    pid: () => child?.pid ?? null,
    async close() {
      closed = true;
      const last = child;
      if (!last || last.exitCode !== null || last.signalCode !== null) return;
      const gone = new Promise((resolve) => last.once('exit', resolve));
      if (last.connected) last.disconnect();
      const timer = setTimeout(() => last.kill('SIGKILL'), GRACE_MS);
      await gone.finally(() => clearTimeout(timer));
    },
  };
}

function pause(ms: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, ms));
}
