/**
 * `npm run bench`: how near `measure` stays to the decoder. Paired ratios in one run: FFmpeg's own decode of the clip
 * (`-f null`) right before each measurement, medians of the pairs; and the largest memory of the Node process.
 * The clip (20 s, 1920x1080, 240 fps, H.264 at about 50 Mbit/s, a LED and a screen drawn in) is made first, in a
 * temporary folder. Nothing is asserted about time; the figures are printed.
 */
import { spawn } from 'node:child_process';
import { existsSync, readFileSync } from 'node:fs';
import { mkdir, rm, stat, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { findFfmpeg } from '../../src/clip/ffmpeg.js';

const SECONDS = Number(process.env.LAGREEL_BENCH_SECONDS ?? 20);
const PAIRS = Number(process.env.LAGREEL_BENCH_PAIRS ?? 3);
const bin = fileURLToPath(new URL('../../bin/lagreel.js', import.meta.url));

// Presses for 0.12 s, about 0.8 s apart but, as with a thumb, never by a clock; the screen answers 62 ms later for
// 0.13 s. Positions in px of the picture.
const PRESSES_S = Array.from(
  { length: Math.floor(SECONDS / 0.8) },
  (_, i) => 0.4 + 0.8 * i + 0.3 * ((i * 0.618034) % 1),
);
const LED = { x: 300, y: 520, width: 40, height: 40 };
const SCREEN = { x: 800, y: 200, width: 960, height: 640 };

async function makeClip(ffmpeg: string, path: string): Promise<void> {
  const during = (fromS: number, toS: number) =>
    PRESSES_S.map((p) => `between(t,${(p + fromS).toFixed(4)},${(p + toS).toFixed(4)})`).join('+');
  const box = (r: typeof LED, colour: string, enable?: string) =>
    `drawbox=x=${r.x}:y=${r.y}:w=${r.width}:h=${r.height}:color=${colour}:t=fill${enable ? `:enable='${enable}'` : ''}`;
  const filter = [
    'noise=alls=8:allf=t',
    box(SCREEN, '0x202020'),
    box(SCREEN, '0xd0d0d0', during(0.062, 0.192)),
    box(LED, '0x101010'),
    box(LED, '0xc0c0c0', during(0, 0.12)),
    'noise=alls=6:allf=t:all_seed=7',
  ].join(',');
  await run(ffmpeg, [
    ...['-v', 'error', '-nostdin', '-y', '-f', 'lavfi'],
    ...['-i', `testsrc2=size=1920x1080:rate=240:duration=${SECONDS}`, '-vf', filter],
    ...['-c:v', 'libx264', '-preset', 'ultrafast', '-profile:v', 'high', '-b:v', '50M', '-maxrate', '60M'],
    ...['-bufsize', '50M', '-pix_fmt', 'yuv420p', '-g', '240', path],
  ]);
}

interface Outcome {
  readonly seconds: number;
  readonly peakMegabytes: number;
  readonly out: string;
}

function run(program: string, args: readonly string[], env = process.env): Promise<Outcome> {
  return new Promise((resolve, reject) => {
    const started = performance.now();
    const child = spawn(program, args, { env, stdio: ['ignore', 'pipe', 'inherit'] });
    let peak = 0;
    let out = '';
    const watch = setInterval(() => {
      const status = `/proc/${child.pid}/status`;
      if (!existsSync(status)) return;
      const match = /VmHWM:\s+(\d+) kB/.exec(readFileSync(status, 'utf8'));
      if (match) peak = Math.max(peak, Number(match[1]) / 1024);
    }, 50);
    child.stdout.on('data', (chunk: Buffer) => {
      out += chunk.toString();
    });
    child.on('error', reject);
    child.on('close', (code) => {
      clearInterval(watch);
      if (code !== 0) reject(new Error(`${program} ended with code ${code}`));
      else resolve({ seconds: (performance.now() - started) / 1000, peakMegabytes: peak, out });
    });
  });
}

const median = (values: readonly number[]): number => [...values].sort((a, b) => a - b)[values.length >> 1]!;

const { path: ffmpeg, versionLine } = await findFfmpeg();
const folder = join(tmpdir(), `lagreel-bench-${SECONDS}s`);
await mkdir(folder, { recursive: true });
const clip = join(folder, 'thumb.mp4');
if (!existsSync(clip)) {
  console.log(`Making a ${SECONDS} s clip, 1920x1080, 240 fps ...`);
  await makeClip(ffmpeg, clip);
}
const recipe = join(folder, 'bench.recipe-given.json');
const band = (name: string, y: number) => ({
  name,
  role: 'screen',
  x: SCREEN.x + 320,
  y,
  width: 320,
  height: 64,
});
await writeFile(
  recipe,
  JSON.stringify({
    format: 'lagreel-recipe',
    version: 1,
    regions: [
      { name: 'led', role: 'led', ...LED },
      band('top', SCREEN.y + 20),
      band('middle', SCREEN.y + 288),
      band('bottom', SCREEN.y + 556),
    ],
    capture: { readoutFraction: 0 },
    display: { refreshHz: 60 },
  }),
);
console.log(
  // Only the version: the line goes on with an address and names.
  `${versionLine.split(' ').slice(0, 3).join(' ')}; clip of ${((await stat(clip)).size / 1e6).toFixed(0)} MB; ${PAIRS} pairs a case`,
);
const decode = () => run(ffmpeg, ['-v', 'error', '-nostdin', '-i', clip, '-f', 'null', '-']);
for (const [label, extra, floor] of [
  ['with a recipe', ['--recipe', recipe], 1.3],
  ['without a recipe', [], null],
] as const) {
  const ratios: number[] = [];
  let peak = 0;
  for (let i = 0; i < PAIRS; i++) {
    const out = join(folder, `out-${i}`);
    await rm(out, { recursive: true, force: true });
    const floorRun = await decode();
    // An empty cache each time: what is compared with the decoder must decode, and keeping the samples is part of it.
    const env = { ...process.env, XDG_CACHE_HOME: join(out, 'cache') };
    const args = [bin, 'measure', clip, '--out', out, '--quiet', ...extra];
    const measured = await run(process.execPath, args, env);
    ratios.push(measured.seconds / floorRun.seconds);
    peak = Math.max(peak, measured.peakMegabytes);
    console.log(
      `  ${label}: decode ${floorRun.seconds.toFixed(2)} s, measure ${measured.seconds.toFixed(2)} s`,
    );
  }
  const target = floor === null ? '' : ` (floor of the issue ${floor})`;
  console.log(
    `${label}: ${median(ratios).toFixed(2)} times the decoder${target}, Node at most ${peak.toFixed(0)} MB`,
  );
}
