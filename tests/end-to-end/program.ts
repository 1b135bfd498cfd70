/** Runs the real program as a person does, in folders of its own; needs `npm run build` before. */
import { type ChildProcess, spawn } from 'node:child_process';
import { chmodSync, copyFileSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

const BIN = fileURLToPath(new URL('../../bin/lagreel.js', import.meta.url));
const SAMPLE_CLIPS = fileURLToPath(new URL('../../sample-clips/', import.meta.url));

/** Names of the sample clips. */
export const SAMPLES = ['alder-flat', 'birch-variable', 'cedar-sprite', 'bench-tube'] as const;

/** Path of a file of the sample clips. */
export function sample(file: string): string {
  return join(SAMPLE_CLIPS, file);
}

const scratchRoot = mkdtempSync(join(tmpdir(), 'lagreel-end-to-end-'));
chmodSync(scratchRoot, 0o755); // One test runs as another user.
// Neither the user's cache nor one of another test run: each run decodes for itself.
process.env.XDG_CACHE_HOME = join(scratchRoot, 'cache');
process.on('exit', () => rmSync(scratchRoot, { recursive: true, force: true }));

/** An empty folder, removed when this process ends. */
export function scratch(): string {
  return mkdtempSync(join(scratchRoot, 'run-'));
}

/** Copies a sample clip (by default under its own name) and returns the copy's path. */
export function copySample(name: string, folder: string, as = `${name}.mp4`): string {
  const path = join(folder, as);
  copyFileSync(sample(`${name}.mp4`), path);
  return path;
}

/** Everything in a folder, relative, sorted. */
export function listing(folder: string): string[] {
  return readdirSync(folder, { recursive: true, encoding: 'utf8' }).sort();
}

/** How a run of the program ended. */
export interface Ended {
  readonly code: number | null;
  readonly out: string;
  readonly err: string;
  /** Lines of standard error that are not progress. */
  readonly said: readonly string[];
}

/** How to run the program. */
export interface RunOptions {
  readonly cwd?: string;
  readonly env?: Readonly<Record<string, string>>;
  /** User to run as, where this process is root. */
  readonly uid?: number;
  /** Called with the process as soon as it runs. */
  readonly onStart?: (child: ChildProcess) => void;
  /** In a process group of its own, as a shell starts jobs. */
  readonly ownGroup?: boolean;
}

const PROGRESS = /: (finding regions|measuring|simulating|reading traces|looking for flashes|painting), \d+ /;

/** Runs `lagreel ...args` to its end. */
export function lagreel(args: readonly string[], options: RunOptions = {}): Promise<Ended> {
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, [BIN, ...args], {
      stdio: ['ignore', 'pipe', 'pipe'],
      env: { ...process.env, NO_COLOR: '1', ...options.env },
      ...(options.cwd !== undefined ? { cwd: options.cwd } : {}),
      ...(options.uid !== undefined ? { uid: options.uid } : {}),
      detached: options.ownGroup ?? false,
    });
    let out = '';
    let err = '';
    child.stdout.setEncoding('utf8').on('data', (text: string) => {
      out += text;
    });
    child.stderr.setEncoding('utf8').on('data', (text: string) => {
      err += text;
    });
    child.once('error', reject);
    child.once('close', (code) => {
      const said = err.split('\n').filter((line) => line !== '' && !PROGRESS.test(line));
      resolve({ code, out, err, said });
    });
    options.onStart?.(child);
  });
}

/** Command lines of all processes below a process, whatever their state; Linux only. */
export function descendants(pid: number): { readonly pid: number; readonly name: string }[] {
  const all = readdirSync('/proc')
    .filter((entry) => /^\d+$/.test(entry))
    .flatMap((entry) => {
      try {
        const stat = readFileSync(`/proc/${entry}/stat`, 'latin1');
        const end = stat.lastIndexOf(')');
        const name = stat.slice(stat.indexOf('(') + 1, end);
        return [{ pid: Number(entry), name, parent: Number(stat.slice(end + 2).split(' ')[1]) }];
      } catch {
        return []; // Gone while we looked.
      }
    });
  const below = (parent: number): typeof all =>
    all.filter((p) => p.parent === parent).flatMap((p) => [p, ...below(p.pid)]);
  return below(pid);
}

/** True while a process exists. */
export function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch {
    return false;
  }
}
