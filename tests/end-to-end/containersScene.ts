/**
 * A bench in few pixels whose truth is known: an LED and a screen that answers each press after exactly 50 ms, filmed
 * at whatever moments a camera is said to have lived through. Pictures are made from linear light, with noise.
 */
import { encodeRawVideo } from '../../src/clip/encode.js';

export const WIDTH_PX = 160;
export const HEIGHT_PX = 120;
export const TRUE_LATENCY_MS = 50;
export const LED = { x: 16, y: 48, width: 20, height: 20 } as const;
export const SCREEN = { x: 80, y: 24, width: 64, height: 72 } as const;

const HOLD_S = 0.09;
const EXPOSURE = 0.9;

/** Press times with uneven distances, so that they fall on every phase of every frame rate, s. */
export function pressTimes(endS: number, fromS = 0.12): number[] {
  const times: number[] = [];
  for (let atS = fromS, k = 0; atS < endS - 0.2; k++) {
    times.push(atS);
    atS += 0.21 + 0.0613 * ((k * 0.618034) % 1);
  }
  return times;
}

/** Even capture moments, s. */
export function evenTimes(rateHz: number, count: number, fromS = 0): number[] {
  return Array.from({ length: count }, (_, k) => fromS + k / rateHz);
}

export type Curve = 'bt709' | 'hlg';

function encodeLight(light: number, curve: Curve): number {
  if (curve === 'hlg') {
    return light <= 1 / 12
      ? Math.sqrt(3 * light)
      : 0.17883277 * Math.log(12 * light - 0.28466892) + 0.55991073;
  }
  return light < 0.018 ? 4.5 * light : 1.099 * light ** 0.45 - 0.099;
}

/** Share of an exposure during which something is lit. */
function litShare(openS: number, closeS: number, onsets: readonly number[]): number {
  let litS = 0;
  for (const atS of onsets) {
    litS += Math.max(0, Math.min(closeS, atS + HOLD_S) - Math.max(openS, atS));
  }
  return litS / (closeS - openS);
}

/** How the pictures are made. */
export interface Film {
  /** Start of each capture, s. */
  readonly capturedAtS: readonly number[];
  /** Period that the exposure follows, s. */
  readonly periodS: number;
  readonly presses: readonly number[];
  readonly noiseCodes?: number;
  readonly bits?: 8 | 10;
  readonly full?: boolean;
  readonly curve?: Curve;
  /** The screen also scrolls a pattern at 60 Hz. */
  readonly scrolls?: boolean;
}

/** Luma of every capture, codes. */
export function* captures(film: Film): Generator<Float64Array> {
  const { bits = 8, full = false, curve = 'bt709', noiseCodes = 2 } = film;
  const scale = 2 ** (bits - 8);
  const black = full ? 0 : 16 * scale;
  const span = full ? 2 ** bits - 1 : 219 * scale;
  const noise = noiseBank(noiseCodes * scale);
  const answers = film.presses.map((atS) => atS + TRUE_LATENCY_MS / 1000);
  const coded = (light: number) => black + span * encodeLight(light, curve);
  const wall = Float64Array.from({ length: WIDTH_PX * HEIGHT_PX }, (_, i) =>
    coded(0.06 + 0.0005 * (i % WIDTH_PX)),
  );
  for (const [index, openS] of film.capturedAtS.entries()) {
    const closeS = openS + EXPOSURE * film.periodS;
    const led = coded(0.03 + 0.5 * litShare(openS, closeS, film.presses));
    const light = 0.05 + 0.45 * litShare(openS, closeS, answers);
    const shown = Math.floor(openS * 60);
    const stripes = [coded(light), coded(light + (film.scrolls ? 0.02 : 0))] as const;
    const code = wall.slice();
    for (let y = LED.y; y < LED.y + LED.height; y++) {
      for (let x = LED.x; x < LED.x + LED.width; x++) {
        if ((x - 26) ** 2 + (y - 58) ** 2 < 49) code[y * WIDTH_PX + x] = led;
      }
    }
    for (let y = SCREEN.y; y < SCREEN.y + SCREEN.height; y++) {
      for (let x = SCREEN.x; x < SCREEN.x + SCREEN.width; x++) {
        code[y * WIDTH_PX + x] = stripes[((x + 3 * shown) >> 3) % 2 === 0 ? 1 : 0];
      }
    }
    const shift = (index * 7919) % noise.length;
    for (let k = 0; k < code.length; k++) code[k]! += noise[(k + shift) % noise.length]!;
    yield code;
  }
}

/** Noise for a picture and a half, of which each picture takes a part that begins elsewhere. */
function noiseBank(sdCodes: number): Float32Array {
  let state = 7;
  const uniform = () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return state / 2 ** 32 - 0.5;
  };
  // Three uniform values of a width of 2 have a standard deviation of 1 together.
  return Float32Array.from({ length: 30_011 }, () => sdCodes * 2 * (uniform() + uniform() + uniform()));
}

/** Every picture `times` times. */
export function* repeated(pictures: Iterable<Float64Array>, times: number): Generator<Float64Array> {
  for (const picture of pictures) for (let k = 0; k < times; k++) yield picture;
}

/** Between each two pictures one that is half-way, as phones make that film at half their rate. */
export function* blended(pictures: Iterable<Float64Array>): Generator<Float64Array> {
  let before: Float64Array | null = null;
  for (const picture of pictures) {
    if (before !== null) yield before.map((code, k) => (code + picture[k]!) / 2);
    yield picture;
    before = picture;
  }
}

/** Some pictures replaced by the one before. */
export function* sometimesRepeated(
  pictures: Iterable<Float64Array>,
  isCopy: (index: number) => boolean,
): Generator<Float64Array> {
  let last: Float64Array | null = null;
  let index = 0;
  for (const picture of pictures) {
    if (last === null || !isCopy(index)) last = picture;
    yield last;
    index++;
  }
}

/** x264 without B-frames, good enough that the noise survives. */
export const H264 = [
  '-c:v',
  'libx264',
  '-preset',
  'veryfast',
  '-qp',
  '12',
  '-bf',
  '0',
  '-pix_fmt',
  'yuv420p',
];

/** Encodes pictures; `options` name the codec and the stored pixel format. */
export async function encodePictures(
  path: string,
  rateHz: number,
  pictures: Iterable<Float64Array>,
  options: readonly string[] = H264,
): Promise<void> {
  const stored = options[options.indexOf('-pix_fmt') + 1]!;
  const deep = stored.includes('10le');
  const grey = deep ? 512 : 128;
  function* raw(): Generator<Uint8Array> {
    const values = new (deep ? Uint16Array : Uint8Array)((WIDTH_PX * HEIGHT_PX * 3) / 2).fill(grey);
    const most = deep ? 1023 : 255;
    for (const picture of pictures) {
      picture.forEach((code, k) => {
        values[k] = Math.max(0, Math.min(most, Math.round(code)));
      });
      yield new Uint8Array(values.buffer);
    }
  }
  await encodeRawVideo({
    widthPx: WIDTH_PX,
    heightPx: HEIGHT_PX,
    pixelFormat: stored,
    rateHz,
    frames: raw(),
    outputPath: path,
    outputOptions: [
      '-vsync',
      '0',
      ...(path.endsWith('.mp4') ? ['-video_track_timescale', '90000'] : []),
      ...options,
    ],
  });
}
