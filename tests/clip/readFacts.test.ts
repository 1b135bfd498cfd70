import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import { findFfmpeg } from '../../src/clip/ffmpeg.js';
import type { ClipFacts } from '../../src/clip/frameSource.js';
import { openClip } from '../../src/clip/openClip.js';
import { readFacts } from '../../src/clip/readFacts.js';
import { AnalysisError } from '../../src/errors.js';
import { type Patch, patchClip } from './boxPatch.js';
import { encodeNumbered, H264_WITH_B_FRAMES, NUMBER_RECT, scratchFolder } from './numberedClip.js';

const folder = scratchFolder();
const base = join(folder, 'base.mp4');
let ffmpeg = '';

beforeAll(async () => {
  ffmpeg = (await findFfmpeg()).path;
  await encodeNumbered(base, 40, ...H264_WITH_B_FRAMES);
});

async function factsOf(name: string, patch: Patch): Promise<ClipFacts> {
  const path = join(folder, `${name}.mp4`);
  patchClip(base, path, patch);
  return readFacts(path);
}

/** FFmpeg by hand, for files that no clip maker of ours would write. */
function make(...args: string[]): void {
  execFileSync(ffmpeg, ['-nostdin', '-loglevel', 'error', '-y', ...args], {
    input: Buffer.alloc(256 * 64 * 3, 99),
  });
}

describe('facts of a good clip', () => {
  it('names file, content and format', async () => {
    const facts = await readFacts(base);
    const bytes = readFileSync(base);
    expect(facts).toMatchObject({
      file: 'base.mp4',
      bytes: bytes.length,
      sha256: createHash('sha256').update(bytes).digest('hex'),
      codec: 'h264',
      codedWidth: 256,
      codedHeight: 64,
      pixelFormat: 'yuv420p',
      bitDepth: 8,
      range: 'limited',
      rangeTagged: false,
      transfer: 'bt709',
      transferTagged: false,
      timeBase: [1, 90000],
      declaredFrames: 40,
      nominalRateHz: 240,
      captureRateTagHz: null,
      editList: 'none',
      warnings: [],
    });
    expect(facts.decoder).toMatch(/^ffmpeg version /);
  });

  it.each([
    [0, false, [1, 0, 0, 1]],
    [90, false, [0, 1, -1, 0]],
    [180, false, [-1, 0, 0, -1]],
    [270, false, [0, -1, 1, 0]],
    [0, true, [-1, 0, 0, 1]],
    [180, true, [1, 0, 0, -1]],
    [90, true, [0, -1, -1, 0]],
    [270, true, [0, 1, 1, 0]],
  ] as const)('reads the turn %d, mirrored %s', async (rotationDeg, mirrored, matrix) => {
    expect((await factsOf('turned', { matrix })).orientation).toEqual({ rotationDeg, mirrored });
  });

  it.each([
    [240, false, 240],
    [239.5, true, 239.5],
    ['960', false, 960],
    ['119.88', true, 119.88],
    [7, false, null],
    [Number.NaN, false, null],
    [Number.POSITIVE_INFINITY, false, null],
    ['240; x', false, null],
    ['1e9', false, null],
  ] as const)('reads the capture-rate tag %s (ISO meta %s) as %s', async (captureTag, isoMeta, expected) => {
    const facts = await factsOf('tagged', { captureTag, isoMeta });
    expect(facts.captureRateTagHz).toBe(expected);
    expect(facts.warnings.length).toBe(expected === null ? 1 : 0);
  });

  it('reads range and transfer from the bitstream', async () => {
    const path = join(folder, 'hlg.mp4');
    const hlg = 'colorprim=bt2020:transfer=arib-std-b67:colormatrix=bt2020nc:range=full:log-level=none';
    await encodeNumbered(
      path,
      3,
      '-c:v',
      'libx265',
      '-preset',
      'ultrafast',
      '-x265-params',
      hlg,
      '-pix_fmt',
      'yuv420p10le',
    );
    expect(await readFacts(path)).toMatchObject({
      codec: 'hevc',
      bitDepth: 10,
      range: 'full',
      rangeTagged: true,
      transfer: 'hlg',
      transferTagged: true,
    });
  });

  it('reads a Matroska file', async () => {
    const path = join(folder, 'base.mkv');
    make('-i', base, '-c', 'copy', path);
    const facts = await readFacts(path);
    expect(facts).toMatchObject({ container: 'matroska,webm', timeBase: [1, 1000], declaredFrames: null });
  });
});

describe('files that cannot be measured', () => {
  const write = (name: string, bytes: Uint8Array | string) => {
    writeFileSync(join(folder, name), bytes);
    return name;
  };

  it.each<[string, string, RegExp, () => string]>([
    [
      'no such file',
      'clip-unreadable',
      /^There is no file .*nothing\.mp4; check the path\.$/,
      () => 'nothing.mp4',
    ],
    [
      'a folder',
      'clip-unreadable',
      /is a folder; give a clip in it/,
      () => {
        mkdirSync(join(folder, 'folder.mp4'), { recursive: true });
        return 'folder.mp4';
      },
    ],
    ['an empty file', 'clip-unreadable', /is empty \(0 bytes\)/, () => write('empty.mp4', '')],
    [
      'a text file',
      'not-a-clip',
      /is a text file, not a video/,
      () => write('text.mp4', 'Dear diary,\nno video today.\n'),
    ],
    [
      'a playlist',
      'not-a-clip',
      /is a playlist that names other files/,
      () => write('list.mp4', '#EXTM3U\nbase.mp4\n'),
    ],
    [
      'a concat list',
      'not-a-clip',
      /is a list that names other files/,
      () => write('cat.mp4', "ffconcat version 1.0\nfile 'base.mp4'\n"),
    ],
    [
      'random bytes',
      'not-a-clip',
      /is no video that lagreel knows/,
      () => write('noise.mp4', createHash('sha512').update('x').digest()),
    ],
    [
      'a file without its index',
      'clip-unreadable',
      /has no index \(moov box\): the recording or the copy was broken off/,
      () => {
        const bytes = readFileSync(base);
        return write('no moov.mp4', bytes.subarray(0, bytes.lastIndexOf('moov') - 4));
      },
    ],
    [
      'a file with half its index',
      'clip-unreadable',
      /is damaged: its index is cut off/,
      () => {
        const bytes = readFileSync(base);
        return write('half moov.mp4', bytes.subarray(0, bytes.lastIndexOf('moov') + 300));
      },
    ],
    [
      'a claim of 20 million frames',
      'clip-unreadable',
      /claims 20000000 frames/,
      () => {
        patchClip(base, join(folder, 'bomb.mp4'), { sampleCount: 20_000_000 });
        return 'bomb.mp4';
      },
    ],
    [
      'sound only',
      'not-a-clip',
      /holds sound but no picture/,
      () => {
        make(
          '-f',
          's16le',
          '-ar',
          '8000',
          '-ac',
          '1',
          '-i',
          'pipe:0',
          '-c:a',
          'aac',
          join(folder, 'sound.mp4'),
        );
        return 'sound.mp4';
      },
    ],
    [
      'a JPEG',
      'not-a-clip',
      /is a JPEG still picture, not a video/,
      () => {
        make(
          '-f',
          'rawvideo',
          '-pix_fmt',
          'yuvj420p',
          '-s',
          '256x64',
          '-i',
          'pipe:0',
          '-frames:v',
          '1',
          '-f',
          'mjpeg',
          join(folder, 'jpeg.mp4'),
        );
        return 'jpeg.mp4';
      },
    ],
    [
      'a PNG',
      'not-a-clip',
      /is a PNG still picture, not a video/,
      () => {
        make(
          '-f',
          'rawvideo',
          '-pix_fmt',
          'rgb24',
          '-s',
          '256x64',
          '-i',
          'pipe:0',
          '-frames:v',
          '1',
          '-c:v',
          'png',
          '-f',
          'image2pipe',
          join(folder, 'png.mp4'),
        );
        return 'png.mp4';
      },
    ],
    [
      'one picture as a video',
      'not-a-clip',
      /is a still picture in a video file \(one frame\)/,
      () => {
        make(
          '-f',
          'rawvideo',
          '-pix_fmt',
          'yuv420p',
          '-s',
          '256x64',
          '-i',
          'pipe:0',
          '-frames:v',
          '1',
          '-c:v',
          'libx264',
          join(folder, 'one.mp4'),
        );
        return 'one.mp4';
      },
    ],
    [
      'raw H.264',
      'not-a-clip',
      /is a raw video stream without timestamps/,
      () => {
        make('-i', base, '-c', 'copy', '-f', 'h264', join(folder, 'raw.mp4'));
        return 'raw.mp4';
      },
    ],
  ])('%s: one sentence, %s', async (_, code, message, prepare) => {
    const path = join(folder, prepare());
    const error = await readFacts(path).catch((cause: unknown) => cause);
    expect(error).toBeInstanceOf(AnalysisError);
    expect(error).toMatchObject({ code, exitCode: 3 });
    const sentence = (error as AnalysisError).message;
    expect(sentence).toMatch(message);
    expect(sentence).toMatch(/\.$/);
    expect(sentence).not.toMatch(/\n/);
  });

  it('does not wait on a named pipe', async () => {
    const path = join(folder, 'pipe.mp4');
    execFileSync('mkfifo', [path]);
    await expect(readFacts(path)).rejects.toThrow(/is no regular file/);
  });

  it('refuses a single picture in Matroska, which says so only when decoded', async () => {
    const path = join(folder, 'one.mkv');
    make(
      '-f',
      'rawvideo',
      '-pix_fmt',
      'yuv420p',
      '-s',
      '256x64',
      '-i',
      'pipe:0',
      '-frames:v',
      '1',
      '-c:v',
      'libx264',
      path,
    );
    const clip = await openClip(path);
    await expect(clip.readRects([NUMBER_RECT], () => {})).rejects.toThrow(/holds a single picture/);
  });

  it('reads names that FFmpeg would take for protocols or patterns', async () => {
    for (const name of ['a:b.mp4', 'concat:x|y.mp4', '-version.mp4', 'frame%03d.mp4', 'with space.mp4']) {
      const path = join(folder, name);
      writeFileSync(path, readFileSync(base));
      const clip = await openClip(path);
      expect(clip.facts.declaredFrames).toBe(40);
      const still = await clip.readStill(0.1, 64);
      expect(still.rgb).toHaveLength(64 * 16 * 3);
    }
  });
});
