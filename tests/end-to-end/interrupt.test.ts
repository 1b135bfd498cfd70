/** Ctrl-C: exit 130 within 3 s, no file half-written or left, no FFmpeg left behind. Looks into /proc: Linux only. */
import { type ChildProcess, spawn } from 'node:child_process';
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import { encodeRawVideo } from '../../src/clip/encode.js';
import { descendants, isAlive, lagreel, listing, scratch } from './program.js';

const WIDTH_PX = 1280;
const HEIGHT_PX = 720;
/** Long enough that each pass takes many seconds on any machine. */
const FRAMES = 2400;
const folder = scratch();
const clip = join(folder, 'long.mp4');
const REGIONS = ['--region', 'led=led:40,40,24,24', '--region', 'top=screen:400,40,640,480'];

/** A light that switches and a screen that follows, at 240 fps; the content is of no matter but for its length. */
function* longRoom(): Generator<Uint8Array> {
  const picture = new Uint8Array((WIDTH_PX * HEIGHT_PX * 3) / 2).fill(128);
  for (let i = 0; i < WIDTH_PX * HEIGHT_PX; i++) picture[i] = 60 + ((i * 7919) % 61);
  for (let index = 0; index < FRAMES; index++) {
    const paint = (x0: number, y0: number, width: number, height: number, value: number) => {
      for (let y = y0; y < y0 + height; y++)
        picture.fill(value, y * WIDTH_PX + x0, y * WIDTH_PX + x0 + width);
    };
    paint(44, 44, 12, 12, index % 120 < 40 ? 220 : 30);
    paint(420, 60, 600, 400, index % 120 > 15 && index % 120 < 60 ? 200 : 40);
    yield picture;
  }
}

beforeAll(async () => {
  await encodeRawVideo({
    widthPx: WIDTH_PX,
    heightPx: HEIGHT_PX,
    pixelFormat: 'yuv420p',
    rateHz: 240,
    frames: longRoom(),
    outputPath: clip,
    outputOptions: ['-c:v', 'libx264', '-preset', 'ultrafast', '-crf', '20', '-pix_fmt', 'yuv420p'],
  });
});

/** Waits until FFmpeg works below a process and has used some processor time (so that frames are flowing). */
async function untilFfmpegWorks(child: ChildProcess): Promise<number[]> {
  for (let tries = 0; tries < 1200; tries++) {
    if (child.exitCode !== null) throw new Error('the program ended before it could be interrupted');
    const working = descendants(child.pid!).filter((p) => p.name === 'ffmpeg' && ticksOf(p.pid) >= 20);
    if (working.length > 0) return working.map((p) => p.pid);
    await new Promise((resolve) => setTimeout(resolve, 25));
  }
  throw new Error('FFmpeg never came to work');
}

/** Processor time of a process in clock ticks (1/100 s). */
function ticksOf(pid: number): number {
  try {
    const stat = readFileSync(`/proc/${pid}/stat`, 'latin1');
    const fields = stat.slice(stat.lastIndexOf(')') + 2).split(' ');
    return Number(fields[11]) + Number(fields[12]);
  } catch {
    return 0;
  }
}

const JOBS = [
  { stage: 'finding regions', args: (out: string) => ['measure', clip, '--out', out] },
  { stage: 'measuring', args: (out: string) => ['measure', clip, '--out', out, ...REGIONS] },
  { stage: 'inspecting', args: () => ['inspect', clip, ...REGIONS] },
  {
    stage: 'simulating',
    args: (out: string) => ['simulate', 'flash', '--presses', '40', '-o', join(out, 'demo.mp4')],
  },
];

describe('Ctrl-C', () => {
  // A terminal sends the signal to the whole group, FFmpeg included; `kill` sends it to the program alone.
  const ways = JOBS.flatMap((job) => [true, false].map((toGroup) => ({ ...job, toGroup })));
  it.each(ways)('while $stage (whole group: $toGroup)', async ({ args, toGroup }) => {
    const place = join(scratch(), 'new');
    const before = listing(folder);
    let stoppedAtMs = 0;
    let ffmpegs: number[] = [];
    let sent: Promise<void> = Promise.resolve();
    const ended = await lagreel(args(place), {
      ownGroup: true,
      onStart: (child) => {
        sent = untilFfmpegWorks(child).then((pids) => {
          ffmpegs = pids;
          stoppedAtMs = performance.now();
          process.kill(toGroup ? -child.pid! : child.pid!, 'SIGINT');
        });
        sent.catch(() => child.kill('SIGKILL'));
      },
    });
    const tookMs = performance.now() - stoppedAtMs;
    await sent;
    expect(ended.code, ended.err).toBe(130);
    expect(ended.said).toEqual(['lagreel: stopped; nothing was written for the clip in progress']);
    expect(ended.out).toBe('');
    expect(tookMs).toBeLessThan(3000);
    expect(ffmpegs.length).toBeGreaterThan(0);
    expect(ffmpegs.filter(isAlive)).toEqual([]);
    expect(existsSync(place)).toBe(false);
    expect(listing(folder)).toEqual(before);
  });

  it('leaves the results of an earlier run as they were', async () => {
    const out = scratch();
    writeFileSync(join(out, 'long.record.json'), 'of an earlier run');
    const ended = await lagreel(['measure', clip, '--out', out, ...REGIONS], {
      onStart: (child) => {
        void untilFfmpegWorks(child).then(() => child.kill('SIGINT'));
      },
    });
    expect(ended.code, ended.err).toBe(130);
    expect(listing(out)).toEqual(['long.record.json']);
    expect(readFileSync(join(out, 'long.record.json'), 'utf8')).toBe('of an earlier run');
  });
});

describe('the watch itself', () => {
  it('sees a child process', async () => {
    const child = spawn('sleep', ['30']);
    await new Promise((resolve) => child.once('spawn', resolve));
    expect(descendants(process.pid).some((p) => p.pid === child.pid && p.name === 'sleep')).toBe(true);
    const gone = new Promise((resolve) => child.once('close', resolve));
    child.kill('SIGKILL');
    await gone;
    expect(isAlive(child.pid!)).toBe(false);
  });
});
