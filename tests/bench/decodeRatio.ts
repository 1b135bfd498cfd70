/**
 * `npm run bench`: how near `measure` stays to the decoder. Paired ratios in one run: FFmpeg's own decode of the clip
 * (`-f null`) right before each measurement, every pair printed, then the median of the ratios; wall time and processor
 * time; and the largest memory of the Node process. A short clip and one of a minute with 40 presses, so that what a
 * run costs once is seen apart. From the cache two cases: another response window, and
 * another response level. Then the usual script against `measure`, where Python and OpenCV exist.
 * Nothing is asserted about time; the figures are printed.
 *
 * LAGREEL_BENCH_SECONDS=20,60 lengths of the clips; LAGREEL_BENCH_PAIRS=3 pairs a case.
 */
import { spawnSync } from 'node:child_process';
import { rm, stat } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { findFfmpeg } from '../../src/clip/ffmpeg.js';
import { benchClip } from './benchClip.js';
import { type TimedRun, timedRun } from './timedRun.js';

const LENGTHS_S = (process.env.LAGREEL_BENCH_SECONDS ?? '20,60').split(',').map(Number);
const PAIRS = Number(process.env.LAGREEL_BENCH_PAIRS ?? 3);
const bin = fileURLToPath(new URL('../../bin/lagreel.js', import.meta.url));
const script = fileURLToPath(new URL('./averageRegions.py', import.meta.url));

const median = (values: readonly number[]): number => [...values].sort((a, b) => a - b)[values.length >> 1]!;
const took = (run: TimedRun): string =>
  `${run.seconds.toFixed(2)} s (processor ${run.cpuSeconds.toFixed(2)} s)`;

/** Runs pairs of a yardstick and what is measured against it, and prints every one. */
async function pairs(
  label: string,
  [yardstick, runYardstick]: readonly [string, () => Promise<TimedRun>],
  [measured, runMeasured]: readonly [string, (pair: number) => Promise<TimedRun>],
  target: string,
): Promise<void> {
  const wall: number[] = [];
  const cpu: number[] = [];
  let peak = 0;
  for (let pair = 0; pair < PAIRS; pair++) {
    const first = await runYardstick();
    const second = await runMeasured(pair);
    wall.push(second.seconds / first.seconds);
    cpu.push(second.cpuSeconds / first.cpuSeconds);
    peak = Math.max(peak, second.peakMegabytes);
    console.log(`  ${label}: ${yardstick} ${took(first)}, ${measured} ${took(second)}`);
  }
  console.log(
    `${label}: ${median(wall).toFixed(3)} times ${yardstick} (processor ${median(cpu).toFixed(3)}); issue: ${target}; Node at most ${peak.toFixed(0)} MB`,
  );
}

/** A Python that has OpenCV; null where none has. */
function pythonWithOpenCv(): string | null {
  const has = (python: string) => spawnSync(python, ['-c', 'import cv2'], { stdio: 'ignore' }).status === 0;
  return ['python3', '/usr/bin/python3'].find(has) ?? null;
}

const { path: ffmpeg, versionLine } = await findFfmpeg();
// Only the version: the line goes on with an address and names.
console.log(`${versionLine.split(' ').slice(0, 3).join(' ')}; ${PAIRS} pairs a case`);
const python = pythonWithOpenCv();
for (const seconds of LENGTHS_S) {
  const folder = join(tmpdir(), `lagreel-bench-${seconds}s`);
  const { clip, recipe, presses } = await benchClip(ffmpeg, folder, seconds);
  const megabytes = (await stat(clip)).size / 1e6;
  console.log(`\nClip of ${seconds} s, ${presses} presses, ${megabytes.toFixed(0)} MB`);
  const decode = () => timedRun(ffmpeg, ['-v', 'error', '-nostdin', '-i', clip, '-f', 'null', '-']);
  const measure = (out: string, cache: string, ...extra: string[]) =>
    timedRun(process.execPath, [bin, 'measure', clip, '--out', out, '--quiet', ...extra], {
      ...process.env,
      XDG_CACHE_HOME: cache,
    });
  // An empty cache each time: what is compared with the decoder must decode, and keeping the samples is part of it.
  const afresh =
    (...extra: string[]) =>
    async (pair: number) => {
      const out = join(folder, `out-${pair}`);
      await rm(out, { recursive: true, force: true });
      return measure(out, join(out, 'cache'), ...extra);
    };
  const fromCache =
    (...extra: string[]) =>
    (pair: number) => {
      const out = join(folder, `out-${pair}`);
      return measure(out, join(out, 'cache'), '--recipe', recipe, ...extra);
    };
  const decoder = ['the decoder', decode] as const;
  await pairs('with a recipe', decoder, ['measure', afresh('--recipe', recipe)], 'at most 1.10');
  await pairs(
    'from the cache, another window',
    decoder,
    ['measure', fromCache('--window', '0:450')],
    'at most 0.03',
  );
  await pairs(
    'from the cache, another level',
    decoder,
    ['measure', fromCache('--level', '0.2')],
    'at most 0.03',
  );
  await pairs('without a recipe', decoder, ['measure', afresh()], 'at most 1.5');
  if (python === null) {
    console.log('against the usual script: not measured: no Python with OpenCV (python3 -c "import cv2")');
  } else {
    const usual = () => timedRun(python, [script, clip, recipe]);
    await pairs(
      'against the usual script',
      ['the script', usual],
      ['measure', afresh('--recipe', recipe)],
      'at most 0.5',
    );
  }
}
