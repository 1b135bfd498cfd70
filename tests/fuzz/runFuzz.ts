/** Runs cases in processes of their own under a clock, and counts how they end. */
import { spawn } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { lagreel } from '../end-to-end/program.js';
import { basesIn } from './bases.js';
import { clipCase } from './cases.js';
import { type Fault, faultsOf } from './judge.js';

/** What to run. */
export interface FuzzRequest {
  readonly seed: number;
  readonly clips: number;
  readonly documents: number;
  /** Every so many clips, one runs as a real process; 0 for none. */
  readonly processEvery: number;
  /** Processes at a time for each kind. */
  readonly jobs: number;
  readonly onFind?: (find: FuzzFind) => void;
  /** Handed the counts at the start; they grow as the run goes on. */
  readonly onStart?: (counts: FuzzResult) => void;
  /** Told after every case, with how many of its kind are done. */
  readonly onCase?: (kind: string, done: number) => void;
}

/** A case that went wrong; its folder is kept. */
export interface FuzzFind {
  readonly kind: string;
  readonly i: number;
  readonly fault: Fault | 'hang';
  readonly what: string;
  readonly argv: readonly string[];
  readonly err: string;
}

/** Counts of one kind. */
export interface FuzzCounts {
  tried: number;
  readonly codes: Record<string, number>;
  readonly finds: FuzzFind[];
  slowestMs: number;
  /** Heap after a collection, MB: near the start and at the end of each process. */
  readonly heapsMb: (readonly [first: number, last: number])[];
}

/**
 * A case that takes longer than this is a hang, s. The longest takes 28 s of processor time; a machine shared by many
 * (load 16 on two cores) made two minutes of that.
 */
const LIMIT_S = { clips: 300, documents: 120, process: 300 } as const;
const WORKER = fileURLToPath(new URL('worker.ts', import.meta.url));
const ROOT = fileURLToPath(new URL('../..', import.meta.url));

type Kind = 'clips' | 'documents';

/** Counts of every kind. */
export type FuzzResult = Record<Kind | 'process', FuzzCounts>;

/** Runs everything; the folder of a run without finds is taken away. */
export async function runFuzz(request: FuzzRequest): Promise<FuzzResult> {
  const folder = mkdtempSync(join(tmpdir(), 'lagreel-fuzz-'));
  const counts = { clips: newCounts(), documents: newCounts(), process: newCounts() };
  request.onStart?.(counts);
  const { jobs } = request;
  const lanes = (kind: Kind, total: number) =>
    Array.from({ length: total > 0 ? jobs : 0 }, (_, lane) =>
      runLane(kind, lane, total, request, folder, counts[kind]),
    );
  // Made once, before the lanes look for them.
  await basesIn(join(folder, 'bases'));
  await Promise.all([
    ...lanes('clips', request.clips),
    ...lanes('documents', request.documents),
    runProcesses(request, folder, counts.process),
  ]);
  const clean = Object.values(counts).every(({ finds }) => finds.length === 0);
  if (clean) rmSync(folder, { recursive: true, force: true });
  return counts;
}

function newCounts(): FuzzCounts {
  return { tried: 0, codes: {}, finds: [], slowestMs: 0, heapsMb: [] };
}

/** One lane: every `jobs`-th case; after a hang, a new process goes on behind it. */
async function runLane(
  kind: Kind,
  lane: number,
  total: number,
  request: FuzzRequest,
  folder: string,
  counts: FuzzCounts,
): Promise<void> {
  for (let from = lane; from < total; ) {
    const stoppedAt = await runWorker(
      kind,
      from,
      total,
      request,
      join(folder, `${kind}-${lane}`),
      folder,
      counts,
    );
    if (stoppedAt === null) return;
    from = stoppedAt + request.jobs;
  }
}

function runWorker(
  kind: Kind,
  from: number,
  total: number,
  request: FuzzRequest,
  temporary: string,
  folder: string,
  counts: FuzzCounts,
): Promise<number | null> {
  mkdirSync(temporary, { recursive: true });
  const args = [
    '--expose-gc',
    '--import',
    'tsx',
    WORKER,
    kind,
    request.seed,
    from,
    total,
    request.jobs,
    folder,
  ];
  const child = spawn(process.execPath, args.map(String), {
    cwd: ROOT,
    stdio: ['ignore', 'ignore', 'pipe', 'pipe'],
    env: { ...process.env, TMPDIR: temporary, XDG_CACHE_HOME: join(temporary, 'cache'), NO_COLOR: '1' },
  });
  return new Promise((resolve, reject) => {
    let at: number | null = null;
    let what = '';
    let argv: readonly string[] = [];
    let hung = false;
    let heaps: number[] = [];
    let words = '';
    let rest = '';
    let clock = setTimeout(() => {}, 0);
    const find = (fault: FuzzFind['fault'], err: string) => {
      const one = { kind, i: at ?? -1, fault, what, argv, err };
      counts.finds.push(one);
      request.onFind?.(one);
    };
    const wind = (seconds: number) => {
      clearTimeout(clock);
      clock = setTimeout(() => {
        hung = true;
        child.kill('SIGKILL');
      }, seconds * 1000);
    };
    wind(300);
    child.stderr!.on('data', (piece: Buffer) => {
      words = (words + piece.toString()).slice(-2000);
    });
    (child.stdio[3] as NodeJS.ReadableStream).on('data', (piece: Buffer) => {
      const lines = (rest + piece.toString()).split('\n');
      rest = lines.pop()!;
      for (const line of lines) {
        const told = JSON.parse(line);
        if (told.begun !== undefined) {
          at = told.begun;
          wind(LIMIT_S[kind]);
        } else if (told.what !== undefined) ({ what, argv } = told);
        else {
          counts.tried++;
          request.onCase?.(kind, counts.tried);
          counts.codes[told.code] = (counts.codes[told.code] ?? 0) + 1;
          counts.slowestMs = Math.max(counts.slowestMs, told.ms);
          if (told.heapMb !== null) heaps = [...heaps, told.heapMb];
          for (const fault of told.faults) find(fault, told.err);
          wind(60);
        }
      }
    });
    child.once('error', reject);
    child.once('close', (code, signal) => {
      clearTimeout(clock);
      if (heaps.length >= 4) counts.heapsMb.push([heaps[1]!, heaps.at(-1)!]);
      if (code === 0) return resolve(null);
      if (at === null) return reject(new Error(`the worker did not start: ${words}`));
      counts.tried++;
      find(hung ? 'hang' : 'crash', hung ? '' : `ended with ${code ?? signal}: ${words}`);
      resolve(at);
    });
  });
}

/** Clips through the program as a person starts it; cases of numbers that no lane has. */
async function runProcesses(request: FuzzRequest, folder: string, counts: FuzzCounts): Promise<void> {
  if (request.processEvery === 0) return;
  const bases = await basesIn(join(folder, 'bases'));
  for (let n = 0; n < Math.floor(request.clips / request.processEvery); n++) {
    const i = 1_000_000 + n;
    const place = mkdtempSync(join(folder, 'process-'));
    const { what, argv } = clipCase(bases, request.seed, i, place);
    let hung = false;
    let clock: NodeJS.Timeout | undefined;
    const startMs = performance.now();
    const ended = await lagreel(argv, {
      cwd: place,
      env: { TMPDIR: place, XDG_CACHE_HOME: join(place, 'cache') },
      onStart: (child) => {
        clock = setTimeout(() => {
          hung = true;
          child.kill('SIGKILL');
        }, LIMIT_S.process * 1000);
      },
    });
    clearTimeout(clock);
    counts.tried++;
    counts.slowestMs = Math.max(counts.slowestMs, performance.now() - startMs);
    counts.codes[String(ended.code)] = (counts.codes[String(ended.code)] ?? 0) + 1;
    const faults: FuzzFind['fault'][] = hung ? ['hang'] : faultsOf(ended, place);
    for (const fault of faults) {
      const one = { kind: 'process', i, fault, what, argv, err: ended.err.slice(0, 1500) };
      counts.finds.push(one);
      request.onFind?.(one);
    }
    if (faults.length === 0) rmSync(place, { recursive: true, force: true });
  }
}
