/** The picture of frame k is the picture of frame k, whichever way one steps to it. */
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { beforeAll, describe, expect, it } from 'vitest';
import type { FrameSource } from '../../src/clip/frameSource.js';
import { readFrameTicks } from '../../src/clip/frameTicks.js';
import { openClip } from '../../src/clip/openClip.js';
import { picturesFrom, type TimedPicture } from '../../src/clip/picturesFrom.js';
import type { ClipAnswer } from '../../src/desk/protocol.js';
import { frameReel } from '../../src/viewing/frameReel.js';
import { planReading, stepOf } from '../../src/viewing/readingPlan.js';
import {
  encodeNumbered,
  H264_WITH_B_FRAMES,
  HEIGHT_PX,
  NUMBER_RECT,
  numberIn,
  WIDTH_PX,
} from '../clip/numberedClip.js';
import { folderOf, scratch, testDesk } from './deskClient.js';

const SAMPLE_CLIPS = fileURLToPath(new URL('../../sample-clips/', import.meta.url));
const path = join(scratch(), 'numbered.mp4');
const FRAMES = 240;

let source: FrameSource;
let ticks: Float64Array;
beforeAll(async () => {
  await encodeNumbered(path, FRAMES, ...H264_WITH_B_FRAMES);
  source = await openClip(path);
  ticks = await readFrameTicks(path, source);
});

/** The number that a whole picture carries. */
function frameOf(rgb: Uint8Array): number {
  const plane = new Uint8Array(NUMBER_RECT.width * NUMBER_RECT.height);
  for (let y = 0; y < NUMBER_RECT.height; y++) {
    for (let x = 0; x < NUMBER_RECT.width; x++)
      plane[y * NUMBER_RECT.width + x] = rgb[3 * (y * WIDTH_PX + x)]!;
  }
  return numberIn(plane);
}
const SIZE = { width: WIDTH_PX, height: HEIGHT_PX };

describe('readFrameTicks', () => {
  it.each(['birch-variable', 'bench-tube', 'cedar-sprite'])(
    'gives the times that decoding gives: %s',
    async (name) => {
      const clip = join(SAMPLE_CLIPS, `${name}.mp4`);
      const opened = await openClip(clip);
      const times = await opened.readRects([{ x: 0, y: 0, width: 2, height: 2 }], () => undefined);
      expect(await readFrameTicks(clip, opened)).toEqual(times.ptsTicks);
    },
    30_000,
  );
});

describe('picturesFrom', () => {
  it.each([0, 1, 57, 60, 131, FRAMES - 1])(
    'begins at the very frame %i, and gives all that follow',
    async (first) => {
      const from = picturesFrom(path, source.facts, { fromTick: ticks[first]!, ...SIZE });
      const seen: TimedPicture[] = [];
      for await (const picture of from) {
        seen.push(picture);
        if (seen.length === 20) break;
      }
      const wanted = Array.from({ length: Math.min(20, FRAMES - first) }, (_, i) => first + i);
      expect(seen.map((p) => frameOf(p.rgb))).toEqual(wanted);
      expect(seen.map((p) => p.tick)).toEqual(wanted.map((k) => ticks[k]));
    },
  );
  it('gives chosen frames only', async () => {
    const chosen = [21, 31, 71, 190];
    const request = { fromTick: ticks[21]!, onlyTicks: chosen.map((k) => ticks[k]!), ...SIZE };
    const seen: number[] = [];
    for await (const { rgb } of picturesFrom(path, source.facts, request)) seen.push(frameOf(rgb));
    expect(seen).toEqual(chosen);
  });
});

describe('frameReel', () => {
  const reel = (limitBytes = 64 * 1024 * 1024) => {
    let readings = 0;
    return {
      readings: () => readings,
      ...frameReel({
        file: 'numbered.mp4',
        ticks,
        limitBytes,
        read: (fromTick, onlyTicks) => {
          readings++;
          return picturesFrom(path, source.facts, {
            fromTick,
            ...SIZE,
            ...(onlyTicks ? { onlyTicks } : {}),
          });
        },
        encode: async (rgb) => rgb,
      }),
    };
  };
  const at = (...offsets: number[]) => offsets.map((k) => 100 + k);
  it.each([
    ['forwards', at(0, 1, 2, 3, 4, 5, 6, 7, 8)],
    ['backwards', at(39, 38, 37, 36, 35, 34, 33)],
    ['by tens', at(0, 10, 20, 30, 39)],
    ['back by tens', at(39, 29, 19, 9)],
    ['to and fro', at(5, 6, 5, 4, 14, 15, 5, 35, 34, 0, 39, 20)],
  ])('gives the very frame, going %s', async (_, indices) => {
    const mine = reel();
    try {
      const seen: number[] = [];
      for (const index of indices) seen.push(frameOf(await mine.picture(index)));
      expect(seen).toEqual(indices);
    } finally {
      await mine.close();
    }
  });
  it('answers many at once, in any order', async () => {
    const mine = reel();
    try {
      const indices = at(20, 3, 39, 0, 21, 20, 10);
      const pictures = await Promise.all(indices.map((k) => mine.picture(k)));
      expect(pictures.map(frameOf)).toEqual(indices);
    } finally {
      await mine.close();
    }
  });
  it('steps forwards in one reading, and keeps no more than it may', async () => {
    const limit = 12 * 3 * WIDTH_PX * HEIGHT_PX;
    const mine = reel(limit);
    try {
      for (let k = 0; k < 120; k++) {
        await mine.picture(k);
        expect(mine.keptBytes()).toBeLessThanOrEqual(limit);
      }
      expect(mine.readings()).toBeLessThanOrEqual(6);
    } finally {
      await mine.close();
    }
  });
  it('the last frame is there, the next is none', async () => {
    const mine = reel();
    try {
      expect((await mine.picture(ticks.length - 1)).length).toBe(3 * WIDTH_PX * HEIGHT_PX);
      await expect(mine.picture(ticks.length)).rejects.toThrow('a whole number from 0');
      await expect(mine.picture(-1)).rejects.toThrow('a whole number from 0');
    } finally {
      await mine.close();
    }
    await expect(mine.picture(0)).rejects.toThrow('was closed');
  });
  it('a frame that cannot be decoded is said to be missing; those after it keep their places', async () => {
    async function* holed(): AsyncGenerator<TimedPicture> {
      for (const k of [0, 1, 3, 4]) yield { tick: 10 * k, rgb: Uint8Array.of(k) };
    }
    const mine = frameReel({
      file: 'holed.mp4',
      ticks: Float64Array.of(0, 10, 20, 30, 40),
      read: holed,
      encode: async (rgb) => rgb,
      limitBytes: 100,
    });
    const ends = await Promise.allSettled([0, 1, 2, 3, 4].map((k) => mine.picture(k)));
    expect(ends.map((e) => (e.status === 'fulfilled' ? [...e.value] : e.reason.message))).toEqual([
      [0],
      [1],
      'frame 2 of holed.mp4 cannot be decoded: step past it',
      [3],
      [4],
    ]);
    await mine.close();
  });
  it('a decoder that fails is told to who waits, and asked again by the next', async () => {
    let tries = 0;
    const mine = frameReel({
      file: 'a.mp4',
      ticks: Float64Array.of(0, 10),
      // biome-ignore lint/correctness/useYield: it fails before it could
      read: async function* () {
        tries++;
        throw new Error('no decoder');
      },
      encode: async (rgb) => rgb,
      limitBytes: 100,
    });
    await expect(mine.picture(0)).rejects.toThrow('no decoder');
    await expect(mine.picture(0)).rejects.toThrow('no decoder');
    expect(tries).toBe(2);
    await mine.close();
  });
});

describe('planReading', () => {
  it('a step is a habit, a long way a jump', () => {
    expect([
      stepOf(null, 5),
      stepOf(5, 6),
      stepOf(6, 5),
      stepOf(5, 15),
      stepOf(15, 5),
      stepOf(5, 500),
    ]).toEqual([1, 1, -1, 10, -10, 1]);
  });
  it('reads in the direction of the step, within the clip', () => {
    expect(planReading(95, 10, 100).only).toEqual([95]);
    expect(planReading(50, 10, 85).only).toEqual([50, 60, 70, 80]);
    expect(planReading(25, -10, 100).only).toEqual([5, 15, 25]);
    expect(planReading(2, -1, 100).only).toEqual([0, 1, 2]);
    expect(planReading(2, 1, 5)).toMatchObject({ first: 2, until: 4, only: null });
  });
});

describe('GET frame and thumbnail', () => {
  it('are upright JPEGs of the size that was asked for', async () => {
    const desk = await testDesk(folderOf('cedar-sprite.mp4'));
    try {
      const at = `/api/clips/${await desk.idOf('cedar-sprite.mp4')}`;
      const size = async (path: string) => {
        const answer = await desk.get(at + path);
        expect([answer.status, answer.headers['content-type']]).toEqual([200, 'image/jpeg']);
        const { width, height, format } = await sharp(answer.bytes).metadata();
        expect(format).toBe('jpeg');
        return Math.max(width, height);
      };
      const facts = (await desk.get(at)).json<ClipAnswer>().facts;
      const longest = Math.max(facts.width, facts.height);
      expect(await size('/frame/5?max=320')).toBe(320);
      expect(await size('/frame/5')).toBe(Math.min(1280, longest));
      expect(await size('/frame/5?max=3840')).toBe(longest);
      expect(await size('/thumbnail')).toBe(320);
      expect((await desk.get(`${at}/frame/${facts.frames}`)).status).toBe(404);
      for (const bad of ['/frame/-1', '/frame/x', '/frame/1e3', '/frame/1?max=9', '/frame/1?max=99999'])
        expect([bad, (await desk.get(at + bad)).status]).toEqual([bad, 400]);
    } finally {
      await desk.close();
    }
  });
});
