import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { encodeRawVideo, type RawVideoJob } from '../../src/clip/encode.js';
import { openClip } from '../../src/clip/openClip.js';
import { childrenAlive } from './childrenAlive.js';
import { scratchFolder } from './numberedClip.js';

const folder = scratchFolder();

function job(
  name: string,
  frames: RawVideoJob['frames'],
  size: readonly [number, number] = [64, 48],
): RawVideoJob {
  return {
    widthPx: size[0],
    heightPx: size[1],
    pixelFormat: 'gray',
    rateHz: 240,
    frames,
    outputPath: join(folder, name),
    outputOptions: ['-c:v', 'libx264', '-qp', '0', '-preset', 'ultrafast', '-pix_fmt', 'yuv444p'],
  };
}

describe('encoding raw pictures', () => {
  it('takes pictures that are drawn into the same bytes again and again', async () => {
    const picture = new Uint8Array(64 * 48);
    function* frames(): Generator<Uint8Array> {
      for (let index = 0; index < 300; index++) yield picture.fill(16 + (index % 200));
    }
    await encodeRawVideo(job('reused.mp4', frames()));
    const clip = await openClip(join(folder, 'reused.mp4'));
    const steps: number[] = [];
    await clip.readRects([{ x: 5, y: 7, width: 3, height: 3 }], (_, [plane]) => {
      steps.push(plane![4]!);
    });
    expect(steps).toHaveLength(300);
    // gray is full range, so the encoder's own conversion squeezes it to 16..235: order and steps must remain.
    for (let i = 1; i < 200; i++) expect(steps[i]! - steps[i - 1]!).toBeGreaterThanOrEqual(0);
    expect(steps[199]! - steps[0]!).toBeGreaterThan(160);
    expect(steps[200]).toBe(steps[0]);
  });

  it('passes on what the pictures throw, and leaves no process', async () => {
    const broken = new Error('no more ink');
    function* frames(): Generator<Uint8Array> {
      yield new Uint8Array(64 * 48);
      throw broken;
    }
    await expect(encodeRawVideo(job('broken.mp4', frames()))).rejects.toBe(broken);
    expect(childrenAlive()).toEqual([]);
  });

  it('rejects with the reason of an abort, and leaves no process', async () => {
    const controller = new AbortController();
    const reason = new Error('enough');
    async function* frames(): AsyncGenerator<Uint8Array> {
      for (let index = 0; ; index++) {
        if (index === 50) controller.abort(reason);
        await new Promise((resolve) => setTimeout(resolve, 1));
        yield new Uint8Array(64 * 48);
      }
    }
    const encoding = encodeRawVideo({ ...job('endless.mp4', frames()), signal: controller.signal });
    await expect(encoding).rejects.toBe(reason);
    expect(childrenAlive()).toEqual([]);
  });

  it('tells in one sentence when FFmpeg refuses', async () => {
    const refused = {
      ...job('refused.mp4', [new Uint8Array(64 * 48)]),
      outputOptions: ['-c:v', 'no_such_codec'],
    };
    await expect(encodeRawVideo(refused)).rejects.toMatchObject({ code: 'decoder-failed' });
    expect(childrenAlive()).toEqual([]);
  });
});

describe('pictures of odd sizes', () => {
  it('reads the last column and row of a picture that no chroma grid fits', async () => {
    const frames = Array.from({ length: 4 }, (_, index) => {
      const luma = Uint8Array.from({ length: 63 * 47 }, (_, i) => 16 + ((i * 7 + index * 31) % 200));
      return Uint8Array.from([...luma, ...new Uint8Array(2 * 63 * 47).fill(128)]);
    });
    await encodeRawVideo({ ...job('odd.mp4', frames, [63, 47]), pixelFormat: 'yuv444p' });
    const clip = await openClip(join(folder, 'odd.mp4'));
    let checked = 0;
    await clip.readRects([{ x: 60, y: 44, width: 3, height: 3 }], (index, [plane]) => {
      const truth = [0, 1, 2].flatMap((row) =>
        [0, 1, 2].map((column) => frames[index]![(44 + row) * 63 + 60 + column]!),
      );
      expect([...plane!]).toEqual(truth);
      checked++;
    });
    expect(checked).toBe(4);
  });
});
