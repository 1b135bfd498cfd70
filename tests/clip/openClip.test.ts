import { copyFileSync, statSync, truncateSync } from 'node:fs';
import { join } from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import type { FrameSource } from '../../src/clip/frameSource.js';
import { openClip } from '../../src/clip/openClip.js';
import { type Patch, patchClip } from './boxPatch.js';
import { childrenAlive } from './childrenAlive.js';
import {
  cutOut,
  encodeNumbered,
  H264_WITH_B_FRAMES,
  HEIGHT_PX,
  lumaOf,
  NUMBER_RECT,
  numberIn,
  scratchFolder,
  WIDTH_PX,
} from './numberedClip.js';

const folder = scratchFolder();
const FRAMES = 150;
const base = join(folder, 'base.mp4');

beforeAll(async () => {
  await encodeNumbered(base, FRAMES, ...H264_WITH_B_FRAMES);
});

/** Copies the base clip with changed boxes and opens it. */
async function opened(name: string, patch: Patch): Promise<FrameSource> {
  const path = join(folder, `${name}.mp4`);
  patchClip(base, path, patch);
  return openClip(path);
}

/** One pass: the pictures' own numbers and the times. */
async function numbersAndTimes(clip: FrameSource, peak = 255) {
  const numbers: number[] = [];
  const times = await clip.readRects([NUMBER_RECT], (index, [plane]) => {
    // A damaged clip is read anew.
    if (index === 0) numbers.length = 0;
    numbers.push(numberIn(plane!, peak));
  });
  return { numbers, times };
}

const counted = (n: number, from = 0) => Array.from({ length: n }, (_, i) => from + i);

describe('frame times in one pass with the pixels', () => {
  it('gives pictures in order with exact ticks on an even clip with B-frames', async () => {
    const { numbers, times } = await numbersAndTimes(await opened('even', {}));
    expect(numbers).toEqual(counted(FRAMES));
    expect([...times.ptsTicks]).toEqual(counted(FRAMES).map((i) => i * 375));
    expect(times).toMatchObject({ timeBase: [1, 90000], stoppedEarly: false, damagedFrames: 0 });
  });

  it('keeps jitter and gaps of a 90 kHz clip to the tick', async () => {
    let at = 0;
    const ticks = counted(FRAMES).map((i) => {
      const now = at;
      at += 375 + ((i * 7919) % 41) - 20 + (i % 31 === 30 ? 375 * 2 : 0);
      return now;
    });
    const { numbers, times } = await numbersAndTimes(await opened('jitter', { ticks }));
    expect(numbers).toEqual(counted(FRAMES));
    expect([...times.ptsTicks]).toEqual(ticks);
  });

  it('keeps a 600 Hz timescale', async () => {
    const ticks = counted(FRAMES).map((i) => Math.round(i * 2.5));
    const clip = await opened('coarse', { timescale: 600, ticks });
    const { numbers, times } = await numbersAndTimes(clip);
    expect(clip.facts.timeBase).toEqual([1, 600]);
    expect(numbers).toEqual(counted(FRAMES));
    expect([...times.ptsTicks]).toEqual(ticks);
  });

  it('keeps a start offset by an empty edit', async () => {
    const edits = [
      { durationS: 0.5, mediaTicks: -1, rate: 1 },
      { durationS: FRAMES / 240, mediaTicks: 0, rate: 1 },
    ];
    const { numbers, times } = await numbersAndTimes(await opened('offset', { edits }));
    expect(numbers).toEqual(counted(FRAMES));
    expect([...times.ptsTicks]).toEqual(counted(FRAMES).map((i) => 45000 + i * 375));
  });

  it('leaves out what a trim hides, and says so', async () => {
    const hidden = 47;
    const edits = [{ durationS: (FRAMES - hidden) / 240, mediaTicks: hidden * 375, rate: 1 }];
    const clip = await opened('trim', { edits });
    const { numbers, times } = await numbersAndTimes(clip);
    expect(clip.facts).toMatchObject({ editList: 'trim', declaredFrames: FRAMES - hidden });
    expect(clip.facts.warnings.join()).toContain('hides 47 frames');
    expect(numbers).toEqual(counted(FRAMES - hidden, hidden));
    expect([...times.ptsTicks]).toEqual(counted(FRAMES - hidden).map((i) => i * 375));
    expect(times.damagedFrames).toBe(0);
  });

  it.each([
    [
      'speed',
      [
        { durationS: 0.2, mediaTicks: 0, rate: 1 },
        { durationS: 2, mediaTicks: 18000, rate: 0.125 },
      ],
    ],
    [
      'pieces',
      [
        { durationS: 0.2, mediaTicks: 0, rate: 1 },
        { durationS: 0.2, mediaTicks: 9000, rate: 1 },
      ],
    ],
  ] as const)('reads the recorded times of an edit list with %s', async (editList, edits) => {
    const clip = await opened(editList, { edits });
    const { numbers, times } = await numbersAndTimes(clip);
    expect(clip.facts).toMatchObject({ editList, declaredFrames: FRAMES });
    expect(numbers).toEqual(counted(FRAMES));
    expect([...times.ptsTicks]).toEqual(counted(FRAMES).map((i) => i * 375));
  });
});

describe('luma exactly as coded', () => {
  const RECTS = [
    { x: 0, y: 0, width: WIDTH_PX, height: HEIGHT_PX },
    { x: 33, y: 17, width: 17, height: 9 },
    { x: 40, y: 20, width: 30, height: 20 },
    { x: 255, y: 63, width: 1, height: 1 },
    { x: 100, y: 50, width: 3, height: 14 },
  ];

  it.each([
    [
      '8 bit limited',
      255,
      'limited',
      ['-c:v', 'libx264', '-preset', 'ultrafast', '-qp', '0', '-pix_fmt', 'yuv420p'],
    ],
    [
      '8 bit full',
      255,
      'full',
      ['-c:v', 'libx264', '-preset', 'ultrafast', '-qp', '0', '-pix_fmt', 'yuvj420p'],
    ],
    [
      '10 bit HEVC',
      1023,
      'limited',
      [
        '-c:v',
        'libx265',
        '-preset',
        'ultrafast',
        '-x265-params',
        'lossless=1:log-level=none',
        '-pix_fmt',
        'yuv420p10le',
        '-tag:v',
        'hvc1',
      ],
    ],
  ] as const)(
    '%s: each rectangle equals the source of a lossless encode',
    async (name, peak, range, options) => {
      const path = join(folder, `${name}.mp4`);
      await encodeNumbered(path, 20, ...options);
      const clip = await openClip(path);
      expect(clip.facts).toMatchObject({ bitDepth: peak === 255 ? 8 : 10, range });
      let wrong = 0;
      let compared = 0;
      // Twice: all at once (overlapping rectangles share a part), and each alone.
      for (const set of [RECTS, ...RECTS.slice(1).map((rect) => [rect])]) {
        const times = await clip.readRects(set, (index, planes) => {
          const source = lumaOf(index, peak);
          set.forEach((rect, k) => {
            const truth = cutOut(source, rect);
            expect(planes[k]).toHaveLength(truth.length);
            truth.forEach((value, i) => {
              compared++;
              if (planes[k]![i] !== value) wrong++;
            });
          });
        });
        expect(times.ptsTicks).toHaveLength(20);
      }
      expect(compared).toBeGreaterThan(300_000);
      expect(wrong).toBe(0);
    },
  );

  it.each([2, 4, 8] as const)(
    'leaves out rows: one of %s is read, from the first one on',
    async (rowStep) => {
      const clip = await openClip(join(folder, '8 bit limited.mp4'));
      const tall = RECTS.map((rect) => ({ ...rect, rowStep }));
      let wrong = 0;
      // Together, where parts are shared, and each alone; from an even row and from an odd one.
      for (const set of [tall, ...tall.map((rect) => [rect]), tall.map((r) => ({ ...r, y: r.y ^ 1 }))]) {
        const fits = set.filter((r) => r.y + r.height <= clip.facts.codedHeight);
        await clip.readRects(fits, (index, planes) => {
          const source = lumaOf(index);
          fits.forEach((rect, k) => {
            const rows = Array.from({ length: Math.ceil(rect.height / rowStep) }, (_, i) =>
              Array.from(cutOut(source, { ...rect, y: rect.y + i * rowStep, height: 1 })),
            ).flat();
            expect(planes[k]).toHaveLength(rows.length);
            rows.forEach((value, i) => {
              if (planes[k]![i] !== value) wrong++;
            });
          });
          return index < 3;
        });
      }
      expect(wrong).toBe(0);
    },
  );

  it('shrinks the overview by block averages', async () => {
    const clip = await openClip(join(folder, '8 bit limited.mp4'));
    const source = lumaOf(7);
    let worst = 0;
    const times = await clip.readOverview(64, (index, plane, width, height) => {
      expect([width, height, plane.length]).toEqual([64, 16, 1024]);
      if (index < 7) return undefined;
      for (let y = 0; y < 16; y++) {
        for (let x = 0; x < 64; x++) {
          const block = cutOut(source, { x: x * 4, y: y * 4, width: 4, height: 4 });
          const mean = block.reduce((sum, value) => sum + value, 0) / 16;
          worst = Math.max(worst, Math.abs(mean - plane[y * 64 + x]!));
        }
      }
      return false;
    });
    expect(times).toMatchObject({ stoppedEarly: true });
    expect(times.ptsTicks).toHaveLength(8);
    expect(worst).toBeLessThanOrEqual(1.5);
  });
});

describe('overview of 10 bit', () => {
  it('keeps the depth', async () => {
    const clip = await openClip(join(folder, '10 bit HEVC.mp4'));
    const source = lumaOf(0, 1023);
    await clip.readOverview(32, (_, plane) => {
      expect(plane).toBeInstanceOf(Uint16Array);
      const block = cutOut(source, { x: 8, y: 56, width: 8, height: 8 });
      const mean = block.reduce((sum, value) => sum + value, 0) / 64;
      expect(Math.abs(plane[7 * 32 + 1]! - mean)).toBeLessThan(1);
      return false;
    });
  });
});

describe('ending a reading', () => {
  it('stops when asked, with the times of what was delivered, and leaves no process', async () => {
    const clip = await openClip(base);
    const seen: number[] = [];
    const times = await clip.readRects([NUMBER_RECT], (index) => {
      seen.push(index);
      return index < 9;
    });
    expect(seen).toEqual(counted(10));
    expect([...times.ptsTicks].map((tick) => tick - times.ptsTicks[0]!)).toEqual(
      counted(10).map((i) => i * 375),
    );
    expect(times.stoppedEarly).toBe(true);
    expect(childrenAlive()).toEqual([]);
  });

  it('rejects with the reason of an abort in mid-decode, and leaves no process', async () => {
    const clip = await openClip(base);
    const controller = new AbortController();
    const reason = new Error('enough');
    let alive = -1;
    const reading = clip.readRects(
      [{ x: 0, y: 0, width: WIDTH_PX, height: HEIGHT_PX }],
      (index) => {
        if (index !== 3) return;
        alive = childrenAlive().length;
        controller.abort(reason);
      },
      { signal: controller.signal },
    );
    await expect(reading).rejects.toBe(reason);
    expect(alive).toBe(1);
    expect(childrenAlive()).toEqual([]);
    await expect(clip.readRects([NUMBER_RECT], () => {}, { signal: controller.signal })).rejects.toBe(reason);
  });

  it('passes on what the callback throws, and leaves no process', async () => {
    const clip = await openClip(base);
    const broken = new RangeError('of the caller');
    const reading = clip.readRects([NUMBER_RECT], () => {
      throw broken;
    });
    await expect(reading).rejects.toBe(broken);
    expect(childrenAlive()).toEqual([]);
  });

  it('reports progress up to the last frame', async () => {
    const done: number[] = [];
    await (await openClip(base)).readRects([NUMBER_RECT], () => {}, { onProgress: (n) => done.push(n) });
    expect(done.at(-1)).toBe(FRAMES);
  });
});

describe('wrong calls', () => {
  it.each([
    { x: -1, y: 0, width: 4, height: 4 },
    { x: 0, y: 0, width: 0, height: 4 },
    { x: 0.5, y: 0, width: 4, height: 4 },
    { x: WIDTH_PX - 3, y: 0, width: 4, height: 4 },
    { x: 0, y: HEIGHT_PX, width: 4, height: 4 },
  ])('refuses the rectangle $x, $y, $width x $height', async (rect) => {
    const clip = await openClip(base);
    await expect(async () => clip.readRects([NUMBER_RECT, rect], () => {})).rejects.toThrow(
      /expected rects\[1\] to be whole pixels inside the coded picture of 256 x 64/,
    );
  });
});

describe('a clip that was cut off', () => {
  it('reads what is there and counts what is lost', async () => {
    const front = join(folder, 'front.mp4');
    await encodeNumbered(front, FRAMES, ...H264_WITH_B_FRAMES, '-movflags', '+faststart');
    const cut = join(folder, 'cut.mp4');
    copyFileSync(front, cut);
    truncateSync(cut, Math.round(statSync(front).size * 0.6));
    const clip = await openClip(cut);
    const [, present] = /cut short: (\d+) of 150 frames/.exec(clip.facts.warnings.join()) ?? [];
    const { numbers, times } = await numbersAndTimes(clip);
    expect(Number(present)).toBeGreaterThan(60);
    expect(numbers.length).toBeGreaterThan(60);
    expect(Math.abs(numbers.length - Number(present))).toBeLessThanOrEqual(2);
    expect(times.damagedFrames).toBeGreaterThanOrEqual(FRAMES - numbers.length);
  });
});

describe('still pictures for people', () => {
  it.each([
    [0, [1, 0, 0, 1]],
    [90, [0, 1, -1, 0]],
    [180, [-1, 0, 0, -1]],
    [270, [0, -1, 1, 0]],
  ] as const)('stands upright when the container asks for %d degrees', async (rotationDeg, matrix) => {
    const clip = await opened(`still ${rotationDeg}`, { matrix });
    expect(clip.facts.orientation).toEqual({ rotationDeg, mirrored: false });
    const still = await clip.readStill(85 / 240, 4096);
    const turned = rotationDeg % 180 === 90;
    expect([still.width, still.height]).toEqual(turned ? [HEIGHT_PX, WIDTH_PX] : [WIDTH_PX, HEIGHT_PX]);
    // Turned back by hand, the picture must show its number: 85 = 0b1010101.
    const luma = new Uint8Array(NUMBER_RECT.width * 16);
    for (let y = 0; y < 16; y++) {
      for (let x = 0; x < NUMBER_RECT.width; x++) {
        const [ux, uy] = {
          0: [x, y],
          90: [HEIGHT_PX - 1 - y, x],
          180: [WIDTH_PX - 1 - x, HEIGHT_PX - 1 - y],
          270: [y, WIDTH_PX - 1 - x],
        }[rotationDeg] as [number, number];
        luma[y * NUMBER_RECT.width + x] = still.rgb[(uy * still.width + ux) * 3 + 1]!;
      }
    }
    expect(numberIn(luma)).toBe(85);
    // The measuring pass must not be turned.
    const { numbers } = await numbersAndTimes(clip);
    expect(numbers.slice(0, 3)).toEqual([0, 1, 2]);
  });

  it('refuses a time after the end', async () => {
    await expect((await openClip(base)).readStill(99, 100)).rejects.toThrow(/mediaS/);
  });
});
