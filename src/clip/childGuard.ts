/** Child processes under guard: what they inherit, and that none outlives this process. */
import type { ChildProcess } from 'node:child_process';

const living = new Set<ChildProcess>();

/** Only what a program needs to start: `FFREPORT` and its kind would make FFmpeg write files of its own. */
export function childEnvironment(): NodeJS.ProcessEnv {
  const kept: NodeJS.ProcessEnv = { LC_ALL: 'C', AV_LOG_FORCE_NOCOLOR: '1' };
  for (const name of ['PATH', 'Path', 'SystemRoot', 'TEMP', 'TMP', 'LD_LIBRARY_PATH']) {
    if (process.env[name] !== undefined) kept[name] = process.env[name];
  }
  return kept;
}

/** Ends every child that is still running. */
function endChildren(): void {
  for (const child of living) child.kill('SIGKILL');
}

function onInterrupt(signal: NodeJS.Signals): void {
  endChildren();
  process.off('SIGINT', onInterrupt);
  process.off('SIGTERM', onInterrupt);
  // Without a handler of the program's own, dying is what the signal would have done.
  if (process.listenerCount(signal) === 0) process.kill(process.pid, signal);
}

/** Puts a child under guard: it is ended with this process, whichever way that ends. */
export function guard(child: ChildProcess): void {
  if (living.size === 0) {
    process.on('exit', endChildren);
    process.on('SIGINT', onInterrupt);
    process.on('SIGTERM', onInterrupt);
  }
  living.add(child);
}

/** Takes a child that has ended out of the guard. */
export function release(child: ChildProcess): void {
  if (!living.delete(child) || living.size > 0) return;
  process.off('exit', endChildren);
  process.off('SIGINT', onInterrupt);
  process.off('SIGTERM', onInterrupt);
}
