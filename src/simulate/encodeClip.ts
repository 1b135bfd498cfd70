/** A scene as an MP4 file, with its truth beside it. Needs FFmpeg with libx264. */
import { createHash } from 'node:crypto';
import { readFile, rename, rm, writeFile } from 'node:fs/promises';
import { basename, join } from 'node:path';
import { encodeRawVideo } from '../clip/encode.js';
import { AnalysisError, UsageError } from '../errors.js';
import { partPath } from '../partFiles.js';
import { checkScene } from './checkScene.js';
import { chromaPainter } from './chroma.js';
import { changeMovie, type MovieChanges } from './movieBoxes.js';
import { codedSize } from './orient.js';
import { mediaRateHz, rectRenderer } from './renderSource.js';
import type { Scene, ToneCurve } from './scene.js';
import { sceneTruth } from './truth.js';
import { type TruthDocument, truthDocument } from './truthDocument.js';

/** How to encode. */
export interface EncodeOptions {
  /** Constant rate factor of libx264: 0 lossless, 18 nearly invisible, 30 coarse. 20 where neither is given. */
  readonly crf?: number;
  /** Mean bit rate of the media clock instead, kbit/s. */
  readonly bitrateKbps?: number;
  /** Speed against size, a preset of libx264: `veryfast`. */
  readonly preset?: string;
  /** Pictures between two that may refer to the future; 0, as phones do when they film fast. */
  readonly bFrames?: number;
  readonly signal?: AbortSignal;
  /** Called with the number of frames handed to the encoder, every 50 frames. */
  readonly onProgress?: (framesDone: number) => void;
}

/** The files that were written, and the truth. */
export interface EncodedClip {
  readonly clipPath: string;
  readonly truthPath: string;
  readonly truth: TruthDocument;
}

const TRANSFER_TAGS: Readonly<Record<ToneCurve, string>> = {
  bt709: 'bt709',
  phone: 'bt709',
  srgb: 'iec61966-2-1',
  hlg: 'arib-std-b67',
  linear: 'linear',
};

function encoderOptions(scene: Scene, options: EncodeOptions): string[] {
  const { camera } = scene;
  const x264 = [
    // One thread everywhere: the same pictures give the same bytes.
    'threads=1:lookahead-threads=1:sliced-threads=0',
    `colorprim=bt709:colormatrix=bt709:transfer=${TRANSFER_TAGS[camera.toneCurve]}`,
    `fullrange=${camera.range === 'full' ? 'on' : 'off'}`,
  ].join(':');
  const rate =
    options.bitrateKbps === undefined
      ? ['-crf', String(options.crf ?? 20)]
      : [
          '-b:v',
          `${options.bitrateKbps}k`,
          '-maxrate',
          `${2 * options.bitrateKbps}k`,
          '-bufsize',
          `${2 * options.bitrateKbps}k`,
        ];
  return [
    ...['-c:v', 'libx264', '-preset', options.preset ?? 'veryfast', ...rate],
    ...['-bf', String(options.bFrames ?? 0), '-g', '120', '-threads', '1', '-x264-params', x264],
    ...['-pix_fmt', camera.bitDepth === 10 ? 'yuv420p10le' : 'yuv420p'],
    // The real clock as time base keeps 240 and 30 Hz exact.
    ...['-video_track_timescale', '90000', '-fflags', '+bitexact', '-flags:v', '+bitexact', '-f', 'mp4'],
  ];
}

/** Whole raw pictures of a scene, one after another in the same bytes. */
function* rawPictures(
  scene: Scene,
  captures: readonly number[],
  options: EncodeOptions,
): Generator<Uint8Array> {
  const { width, height } = codedSize(scene.picture);
  const wide = scene.camera.bitDepth === 10;
  const values = (width * height * 3) / 2;
  const picture = wide ? new Uint16Array(values) : new Uint8Array(values);
  const luma = picture.subarray(0, width * height);
  const render = rectRenderer(scene, { x: 0, y: 0, width, height });
  const paint = chromaPainter(scene, picture.subarray(width * height));
  const bytes = new Uint8Array(picture.buffer);
  for (const [index, capture] of captures.entries()) {
    options.signal?.throwIfAborted();
    render(capture, luma);
    paint(capture);
    yield bytes;
    if (index % 50 === 49) options.onProgress?.(index + 1);
  }
}

function movieChanges(scene: Scene, captures: readonly number[]): MovieChanges {
  const gaps = captures.map((capture, i) => (captures[i + 1] ?? capture + 1) - capture);
  return {
    rotationDeg: scene.picture.rotationDeg,
    ...(scene.camera.captureTag ? { captureRateTagHz: scene.camera.captureRateHz } : {}),
    ...(gaps.some((frames) => frames > 1) ? { sampleFrames: gaps } : {}),
  };
}

/**
 * Writes `NAME.mp4` and `NAME.truth.json` into a folder that exists (NAME is the scene's), replacing both. Each
 * appears whole or not at all. The same scene, options and FFmpeg give the same bytes.
 * @throws UsageError for scenes that cannot be stored; AnalysisError `decoder-missing`, `decoder-failed` or
 * `write-failed`; the signal's reason.
 */
export async function encodeClip(
  scene: Scene,
  folder: string,
  options: EncodeOptions = {},
): Promise<EncodedClip> {
  checkScene(scene);
  if (basename(scene.name) !== scene.name || scene.name === '' || scene.name.startsWith('.')) {
    throw new UsageError(`expected scene.name to be a plain file name, got ${JSON.stringify(scene.name)}`);
  }
  const captures = sceneTruth(scene).captureIndex;
  if ((options.bFrames ?? 0) > 0 && captures.length < scene.camera.frames) {
    throw new UsageError('Dropped frames cannot be stored together with B-frames; set bFrames to 0.');
  }
  const { width, height } = codedSize(scene.picture);
  const clipPath = join(folder, `${scene.name}.mp4`);
  const truthPath = join(folder, `${scene.name}.truth.json`);
  const part = partPath(clipPath);
  try {
    await encodeRawVideo({
      widthPx: width,
      heightPx: height,
      pixelFormat: scene.camera.bitDepth === 10 ? 'yuv420p10le' : 'yuv420p',
      rateHz: mediaRateHz(scene),
      frames: rawPictures(scene, captures, options),
      outputPath: part,
      // The name of the part does not say what it becomes.
      outputOptions: [...encoderOptions(scene, options), '-f', 'mp4'],
      ...(options.signal ? { signal: options.signal } : {}),
    });
    const file = changeMovie(await readFile(part), movieChanges(scene, captures));
    const truth = truthDocument(scene, {
      file: basename(clipPath),
      bytes: file.length,
      sha256: createHash('sha256').update(file).digest('hex'),
    });
    options.signal?.throwIfAborted();
    await writeWhole(part, clipPath, file);
    await writeWhole(part, truthPath, `${JSON.stringify(truth, null, 2)}\n`);
    return { clipPath, truthPath, truth };
  } finally {
    await rm(part, { force: true });
  }
}

async function writeWhole(part: string, path: string, content: Uint8Array | string): Promise<void> {
  try {
    await writeFile(part, content);
    await rename(part, path);
  } catch (cause) {
    throw new AnalysisError(
      'write-failed',
      `${path} could not be written: ${String(cause)}.`,
      { path },
      cause,
    );
  }
}
