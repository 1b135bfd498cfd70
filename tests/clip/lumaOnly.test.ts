/** Leaving the colour planes out of decoding must not touch luma: every pixel of whole clips, with and without. */
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { findFfmpeg, outputPipe, runFfmpeg } from '../../src/clip/ffmpeg.js';
import { openClip } from '../../src/clip/openClip.js';
import { scratchFolder } from './numberedClip.js';

const folder = scratchFolder();
// Coded so that prediction of every kind occurs: frames in both directions, weights, 8 x 8 transforms, noise.
const CLIPS = [
  ['h264.mp4', '-c:v libx264 -bf 2 -x264-params weightp=2:8x8dct=1'],
  ['h264-main.mp4', '-c:v libx264 -profile:v main -preset ultrafast'],
  ['h264-422.mkv', '-c:v libx264 -pix_fmt yuv422p'],
  ['h264-10bit.mkv', '-c:v libx264 -pix_fmt yuv420p10le'],
  ['hevc.mp4', '-c:v libx265 -x265-params log-level=none'],
  ['mpeg4.mp4', '-c:v mpeg4 -q:v 4 -bf 2'],
  ['mjpeg.mov', '-c:v mjpeg -q:v 4 -pix_fmt yuvj420p'],
  ['prores.mov', '-c:v prores_ks'],
] as const;

it.each(CLIPS)('%s: every pixel of luma is the same', async (name, coding) => {
  const path = join(folder, name);
  const picture = 'testsrc2=size=192x112:rate=60:duration=0.5,noise=alls=24:allf=t';
  const made = await runFfmpeg({
    args: ['-v', 'error', '-y', '-f', 'lavfi', '-i', picture, ...coding.split(' '), path],
    onOutput: [],
  });
  expect(made.exitCode, made.messages).toBe(0);
  const { supportsFpsMode } = await findFfmpeg();
  const everyFrame = supportsFpsMode ? ['-fps_mode', 'passthrough'] : ['-vsync', '0'];
  const whole: Buffer[] = [];
  await runFfmpeg({
    args: [
      ...['-v', 'error', '-i', path, ...everyFrame, '-vf', 'extractplanes=y'],
      ...['-f', 'rawvideo', outputPipe(0)],
    ],
    onOutput: [
      (piece) => {
        whole.push(piece);
        return undefined;
      },
    ],
  });
  const read: Buffer[] = [];
  const clip = await openClip(path);
  await clip.readRects([{ x: 0, y: 0, width: 192, height: 112 }], (_, [plane]) => {
    read.push(Buffer.from(plane!.buffer.slice(plane!.byteOffset, plane!.byteOffset + plane!.byteLength)));
  });
  expect(read).toHaveLength(30);
  expect(Buffer.concat(read).equals(Buffer.concat(whole))).toBe(true);
});
