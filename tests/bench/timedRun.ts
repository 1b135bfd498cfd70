/** Runs a program and tells what it took. */
import { spawn } from 'node:child_process';
import { readFileSync } from 'node:fs';

/** What a run took, its ended children included in the processor time (Linux; 0 elsewhere). */
export interface TimedRun {
  readonly seconds: number;
  /** User and system time, s; up to a twentieth of a second short, since it is looked up while the program runs. */
  readonly cpuSeconds: number;
  /** Largest resident memory of the program itself, MB. */
  readonly peakMegabytes: number;
  readonly out: string;
}

const LOOK_EVERY_MS = 20;
/** Linux counts processor time in hundredths of a second for programs. */
const TICKS_PER_SECOND = 100;

/** Rejects where the program ends with another code than 0. */
export function timedRun(
  program: string,
  args: readonly string[],
  env: NodeJS.ProcessEnv = process.env,
): Promise<TimedRun> {
  return new Promise((resolve, reject) => {
    const started = performance.now();
    const child = spawn(program, args, { env, stdio: ['ignore', 'pipe', 'inherit'] });
    let peakMegabytes = 0;
    let cpuSeconds = 0;
    let out = '';
    const look = () => {
      const status = textOf(`/proc/${child.pid}/status`);
      peakMegabytes = Math.max(peakMegabytes, Number(/VmHWM:\s+(\d+) kB/.exec(status)?.[1] ?? 0) / 1024);
      const stat = textOf(`/proc/${child.pid}/stat`);
      // After the name in brackets: state first, then user, system and the same of ended children as 12th to 15th.
      const ticks = stat
        .slice(stat.lastIndexOf(')') + 2)
        .split(' ')
        .slice(11, 15)
        .reduce((sum, n) => sum + Number(n), 0);
      cpuSeconds = Math.max(cpuSeconds, ticks / TICKS_PER_SECOND);
    };
    const timer = setInterval(look, LOOK_EVERY_MS);
    child.stdout.on('data', (chunk: Buffer) => {
      out += chunk.toString();
    });
    child.on('error', reject);
    child.on('close', (code) => {
      clearInterval(timer);
      const seconds = (performance.now() - started) / 1000;
      if (code === 0) resolve({ seconds, cpuSeconds, peakMegabytes, out });
      else reject(new Error(`${program} ended with code ${code}`));
    });
  });
}

function textOf(path: string): string {
  try {
    return readFileSync(path, 'latin1');
  } catch {
    return '';
  }
}
