/** Clips whose pictures carry their own number, made with the FFmpeg in use; the truth of every reading test. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { encodeRawVideo } from '../../src/clip/encode.js';
import type { LumaPlane, PixelRect } from '../../src/clip/frameSource.js';

export const WIDTH_PX = 256;
export const HEIGHT_PX = 64;
/** Bits of the number, one block of 16 x 16 each, lowest first. */
const BITS = 12;
export const NUMBER_RECT: PixelRect = { x: 0, y: 0, width: BITS * 16, height: 16 };

/** A folder of this test file, removed when the process ends. */
export function scratchFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'lagreel-clip-test-'));
  process.on('exit', () => rmSync(folder, { recursive: true, force: true }));
  return folder;
}

/** Luma of picture `index`: its number in the top rows, a pattern that differs in every pixel below. */
export function lumaOf(index: number, peak = 255): Uint16Array {
  const luma = new Uint16Array(WIDTH_PX * HEIGHT_PX);
  for (let y = 0; y < HEIGHT_PX; y++) {
    for (let x = 0; x < WIDTH_PX; x++) {
      const bit = x >> 4;
      const isBit = y < 16 && bit < BITS;
      luma[y * WIDTH_PX + x] = isBit
        ? ((index >> bit) & 1) * Math.round(peak * 0.8) + Math.round(peak * 0.1)
        : (x * 31 + y * 57 + index * 13) % (peak + 1);
    }
  }
  return luma;
}

/** The number that a luma plane of `NUMBER_RECT` carries. */
export function numberIn(plane: LumaPlane, peak = 255): number {
  let number = 0;
  for (let bit = 0; bit < BITS; bit++) {
    let sum = 0;
    for (let y = 4; y < 12; y++) {
      for (let x = 4; x < 12; x++) sum += plane[y * NUMBER_RECT.width + bit * 16 + x]!;
    }
    if (sum / 64 > peak / 2) number |= 1 << bit;
  }
  return number;
}

/** The part of a whole picture that a rectangle covers. */
export function cutOut(luma: Uint16Array, rect: PixelRect): number[] {
  const values: number[] = [];
  for (let y = rect.y; y < rect.y + rect.height; y++) {
    for (let x = rect.x; x < rect.x + rect.width; x++) values.push(luma[y * WIDTH_PX + x]!);
  }
  return values;
}

/** Encodes `frames` numbered pictures at 240 fps. */
export async function encodeNumbered(
  path: string,
  frames: number,
  ...outputOptions: string[]
): Promise<void> {
  const tenBit = outputOptions.includes('yuv420p10le');
  const pixelFormat = tenBit ? 'yuv420p10le' : outputOptions.includes('yuvj420p') ? 'yuvj420p' : 'yuv420p';
  const peak = tenBit ? 1023 : 255;
  const chroma = new Uint16Array((WIDTH_PX * HEIGHT_PX) / 2).fill((peak + 1) / 2);
  function* pictures(): Generator<Uint8Array> {
    for (let index = 0; index < frames; index++) {
      const codes = [...lumaOf(index, peak), ...chroma];
      yield tenBit ? new Uint8Array(Uint16Array.from(codes).buffer) : Uint8Array.from(codes);
    }
  }
  await encodeRawVideo({
    widthPx: WIDTH_PX,
    heightPx: HEIGHT_PX,
    pixelFormat,
    rateHz: 240,
    frames: pictures(),
    outputPath: path,
    outputOptions: ['-vsync', '0', '-video_track_timescale', '90000', ...outputOptions],
  });
}

/** x264 as a phone would: B-frames and a closed group each second. */
export const H264_WITH_B_FRAMES = [
  ...['-c:v', 'libx264', '-preset', 'veryfast', '-crf', '18', '-bf', '3', '-g', '60', '-pix_fmt', 'yuv420p'],
];
