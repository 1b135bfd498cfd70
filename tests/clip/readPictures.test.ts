/** Whole pictures: exactly the frames that were asked for, upright, with a slow reader and with one that leaves early. */
import { join } from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import type { ClipFacts, FrameSource, Orientation } from '../../src/clip/frameSource.js';
import { openClip } from '../../src/clip/openClip.js';
import { readPictures } from '../../src/clip/readPictures.js';
import { uprightToCoded } from '../../src/region/geometry.js';
import { childrenAlive } from './childrenAlive.js';
import {
  encodeNumbered,
  H264_WITH_B_FRAMES,
  HEIGHT_PX,
  NUMBER_RECT,
  numberIn,
  scratchFolder,
  WIDTH_PX,
} from './numberedClip.js';

const clip = join(scratchFolder(), 'numbered.mp4');
let source: FrameSource;

beforeAll(async () => {
  await encodeNumbered(clip, 90, ...H264_WITH_B_FRAMES);
  source = await openClip(clip);
});

/** The number in the picture's top rows, by its green. */
function numberOf(rgb: Uint8Array): number {
  const { width, height } = NUMBER_RECT;
  const green = new Uint8Array(width * height);
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) green[y * width + x] = rgb[3 * (y * WIDTH_PX + x) + 1]!;
  return numberIn(green);
}

const whole = { width: WIDTH_PX, height: HEIGHT_PX, scaling: 'sharp' } as const;

describe('readPictures', () => {
  it('gives the frames of the runs, in order and no other', async () => {
    const numbers: number[] = [];
    const runs = [
      [0, 2],
      [17, 17],
      [59, 62],
      [88, 89],
    ] as const;
    for await (const rgb of readPictures(clip, source.facts, { ...whole, runs })) {
      expect(rgb.length).toBe(3 * WIDTH_PX * HEIGHT_PX);
      // A reader that takes its time must not lose a picture.
      await new Promise((resolve) => setTimeout(resolve, 5));
      numbers.push(numberOf(rgb));
    }
    expect(numbers).toEqual([0, 1, 2, 17, 59, 60, 61, 62, 88, 89]);
  });

  it('may be left early, and leaves no process', async () => {
    const before = childrenAlive();
    for await (const rgb of readPictures(clip, source.facts, { ...whole, runs: [[0, 89]] })) {
      expect(numberOf(rgb)).toBe(0);
      break;
    }
    expect(childrenAlive()).toEqual(before);
  });

  it('says where the clip ends too early, and refuses runs out of order', async () => {
    const all = async (runs: readonly (readonly [number, number])[]) => {
      for await (const _ of readPictures(clip, source.facts, { ...whole, runs }));
    };
    await expect(all([[80, 95]])).rejects.toThrow(/10 of 16 frames/);
    await expect(
      all([
        [5, 9],
        [9, 12],
      ]),
    ).rejects.toThrow(/runs/);
  });

  it('stops with the reason of its signal', async () => {
    const stop = new AbortController();
    const job = (async () => {
      for await (const _ of readPictures(clip, source.facts, { ...whole, runs: [[0, 89]] }, stop.signal))
        stop.abort(new Error('enough'));
    })();
    await expect(job).rejects.toThrow('enough');
  });

  const orientations: Orientation[] = [0, 90, 180, 270].flatMap((rotationDeg) =>
    [false, true].map((mirrored) => ({ rotationDeg, mirrored }) as Orientation),
  );
  it.each(orientations)('turned by $rotationDeg degrees, mirrored $mirrored: as regions are', async (o) => {
    const facts: ClipFacts = { ...source.facts, orientation: o };
    const turned = o.rotationDeg % 180 !== 0;
    const [width, height] = turned ? [HEIGHT_PX, WIDTH_PX] : [WIDTH_PX, HEIGHT_PX];
    const read = async (of: ClipFacts, w: number, h: number) => {
      for await (const rgb of readPictures(clip, of, {
        runs: [[37, 37]],
        width: w,
        height: h,
        scaling: 'sharp',
      }))
        return rgb;
      throw new Error('no picture');
    };
    const upright = await read(facts, width, height);
    const coded = await read(
      { ...facts, orientation: { rotationDeg: 0, mirrored: false } },
      WIDTH_PX,
      HEIGHT_PX,
    );
    for (const [x, y] of [
      [3, 5],
      [width - 1, 0],
      [17, height - 2],
      [(width >> 1) + 5, (height >> 1) - 3],
    ] as const) {
      const at = uprightToCoded({ x, y, width: 1, height: 1 }, facts);
      // Chroma is flat in these clips, so that turning cannot move it by half a sample.
      expect(
        Math.abs(upright[3 * (y * width + x) + 1]! - coded[3 * (at.y * WIDTH_PX + at.x) + 1]!),
      ).toBeLessThan(3);
    }
  });
});
