/** Still pictures of a clip, with programs in FFmpeg's place that do not behave. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { encodeRawVideo } from '../../src/clip/encode.js';
import { findFfmpeg } from '../../src/clip/ffmpeg.js';
import type { FrameSource } from '../../src/clip/frameSource.js';
import { openClip } from '../../src/clip/openClip.js';

const folder = mkdtempSync(join(tmpdir(), 'lagreel-clip-test-'));
const before = process.env.LAGREEL_FFMPEG;
let clip: FrameSource;

beforeAll(async () => {
  // Ten greys, one a frame: 20, 40, ... of full range.
  const frames = Array.from({ length: 10 }, (_, k) => new Uint8Array(64 * 48).fill(20 * (k + 1)));
  await encodeRawVideo({
    widthPx: 64,
    heightPx: 48,
    pixelFormat: 'gray',
    rateHz: 10,
    frames,
    outputPath: join(folder, 'greys.mp4'),
    outputOptions: ['-vf', 'scale=out_range=full', '-c:v', 'libx264', '-qp', '0', '-pix_fmt', 'yuvj420p'],
  });
  clip = await openClip(join(folder, 'greys.mp4'));
});
afterEach(() => {
  if (before === undefined) delete process.env.LAGREEL_FFMPEG;
  else process.env.LAGREEL_FFMPEG = before;
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** A program in FFmpeg's place: the real one, and what else it does. */
async function inPlaceOfFfmpeg(name: string, ...afterwards: string[]): Promise<void> {
  const { path } = await findFfmpeg();
  const script = join(folder, name);
  const lines = ['#!/bin/sh', `"${path}" "$@"`, 'code=$?', ...afterwards, 'exit $code', ''];
  writeFileSync(script, lines.join('\n'), { mode: 0o755 });
  process.env.LAGREEL_FFMPEG = script;
}

describe('a still picture', () => {
  it('is the frame nearest to the time', async () => {
    // Frame 6 is shown from 0.6 s on.
    for (const atS of [0.56, 0.6, 0.64]) {
      const { width, height, rgb } = await clip.readStill(atS, 32);
      expect([width, height, rgb.length]).toEqual([32, 24, 32 * 24 * 3]);
      for (const code of rgb) expect(Math.abs(code - 140)).toBeLessThanOrEqual(2);
    }
  });

  it('refuses a time after the end', async () => {
    await expect(clip.readStill(5, 32)).rejects.toThrow(/time inside the clip/);
  });
});

describe.skipIf(process.platform === 'win32')('an FFmpeg that does not behave', () => {
  it('has done its job where it ends long after its last byte', async () => {
    await inPlaceOfFfmpeg('slow-ffmpeg', 'exec >&-', 'sleep 0.5');
    expect((await clip.readStill(0.3, 32)).rgb).toHaveLength(32 * 24 * 3);
  });

  it('is stopped where it writes more than was asked for', async () => {
    await inPlaceOfFfmpeg('flooding-ffmpeg', 'case "$*" in *rawvideo*) exec cat /dev/zero;; esac');
    await expect(clip.readStill(0.3, 32)).rejects.toThrow(/more than was asked for/);
  });

  it('is told in one sentence where it fails', async () => {
    await inPlaceOfFfmpeg('failing-ffmpeg', 'case "$*" in *rawvideo*) code=7;; esac');
    await expect(clip.readStill(0.3, 32)).rejects.toMatchObject({ code: 'decoder-failed' });
  });
});
