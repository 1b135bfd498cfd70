/** A clip of a flickering light as a real H.264 file. */
import { encodeRawVideo } from '../../src/clip/encode.js';
import type { LumaPlane } from '../../src/clip/frameSource.js';
import { type FlickerScene, flickerSource } from '../../src/simulate/flickerSource.js';

/** Writes an MP4; the stored rate is the scene's or its nominal rate, `crf` as libx264 means it. */
export async function encodeFlicker(scene: FlickerScene, outputPath: string, crf: number): Promise<void> {
  const source = flickerSource(scene);
  const { codedWidth: width, codedHeight: height } = source.facts;
  const pictures: Uint8Array[] = [];
  await source.readRects([{ x: 0, y: 0, width, height }], (_, [plane]) => {
    const picture = new Uint8Array((width * height * 3) / 2).fill(128);
    picture.set(plane as Exclude<LumaPlane, Uint16Array>);
    pictures.push(picture);
  });
  await encodeRawVideo({
    widthPx: width,
    heightPx: height,
    pixelFormat: 'yuv420p',
    // As a phone does: times of the nominal rate, whatever the sensor really runs at.
    rateHz: scene.camera.storedRateHz ?? Math.round(scene.camera.captureRateHz),
    frames: pictures,
    outputPath,
    outputOptions: [
      ...['-c:v', 'libx264', '-preset', 'veryfast', '-crf', String(crf), '-bf', '0', '-threads', '1'],
      ...['-pix_fmt', 'yuv420p', '-video_track_timescale', '90000', '-color_range', 'tv'],
    ],
  });
}
