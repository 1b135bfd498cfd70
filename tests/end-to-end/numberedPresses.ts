/** A clip that proves itself: each picture carries its number, an LED and a screen change at known times, some frames are lost. */
import { encodeRawVideo } from '../../src/clip/encode.js';
import { encodeLight } from '../../src/units.js';

export const WIDTH_PX = 320;
export const HEIGHT_PX = 180;
export const RATE_HZ = 240;
export const EXPOSURE = 0.9;
/** Frames that the recording has lost. */
export const LOST: readonly number[] = [101, 310, 311];
const FRAMES = 620;
/** Bits of the number: blocks of 16 px in the top rows, too dim to flash. */
const BITS = 12;

export const LED = { x: 30, y: 80, width: 24, height: 24 } as const;
/** Whole cells of three px, so that the middle of its rows is the mean of its cells. */
export const SCREEN = { x: 160, y: 60, width: 96, height: 63 } as const;

/** When the LED lights, s, and how long the screen takes to answer, ms. */
export const PRESSES: readonly (readonly [pressS: number, latencyMs: number])[] = [
  [0.3137, 61.3],
  [0.7491, 55.2],
  [1.1823, 68.8],
  [1.5559, 58.1],
  [1.9942, 64.4],
];
const LIT_S = 0.15;

/** Share of a frame's exposure that lies in [from, to), times in s. */
function share(openS: number, fromS: number, toS: number): number {
  const closeS = openS + EXPOSURE / RATE_HZ;
  return Math.max(0, Math.min(closeS, toS) - Math.max(openS, fromS)) / (closeS - openS);
}

const code = (light: number): number => Math.round(16 + 219 * encodeLight(light, 'bt709'));

function* pictures(): Generator<Uint8Array> {
  const luma = WIDTH_PX * HEIGHT_PX;
  for (let k = 0; k < FRAMES; k++) {
    const picture = new Uint8Array((luma * 3) / 2).fill(128);
    for (let i = 0; i < luma; i++) picture[i] = 50 + ((i * 7919 + k * 104729) % 7);
    const paint = (x0: number, y0: number, width: number, height: number, value: number) => {
      for (let y = y0; y < y0 + height; y++) {
        for (let x = x0; x < x0 + width; x++) {
          // Grain of three codes, as every sensor has some.
          picture[y * WIDTH_PX + x] = value + ((x * 131 + y * 7919 + k * 104729) % 7) - 3;
        }
      }
    };
    for (let bit = 0; bit < BITS; bit++) paint(16 * bit, 0, 16, 16, (k >> bit) & 1 ? 90 : 40);
    const openS = k / RATE_HZ;
    const sum = (delayS: (latencyMs: number) => number) =>
      PRESSES.reduce((s, [at, ms]) => s + share(openS, at + delayS(ms), at + delayS(ms) + LIT_S), 0);
    paint(LED.x + 6, LED.y + 6, 12, 12, code(0.02 + 0.6 * sum(() => 0)));
    paint(SCREEN.x, SCREEN.y, SCREEN.width, SCREEN.height, code(0.03 + 0.5 * sum((ms) => ms / 1000)));
    yield picture;
  }
}

/** Number of the camera frame that a picture of a film shows; `scale` px of the film are one of the clip. */
export function numberIn(rgb: Uint8Array, filmWidthPx: number, scale: number): number {
  let number = 0;
  for (let bit = 0; bit < BITS; bit++) {
    let sum = 0;
    for (let y = 4; y < 12; y++) {
      for (let x = 4; x < 12; x++) sum += rgb[3 * (y * scale * filmWidthPx + (16 * bit + x) * scale) + 1]!;
    }
    if (sum / 64 > 57) number |= 1 << bit;
  }
  return number;
}

/** Writes the clip. */
export async function encodeNumberedPresses(path: string): Promise<void> {
  const kept = LOST.map((k) => `not(eq(n,${k}))`).join('*');
  await encodeRawVideo({
    widthPx: WIDTH_PX,
    heightPx: HEIGHT_PX,
    pixelFormat: 'yuv420p',
    rateHz: RATE_HZ,
    frames: pictures(),
    outputPath: path,
    outputOptions: [
      ...['-vf', `select='${kept}'`, '-vsync', '0', '-video_track_timescale', '90000'],
      ...['-c:v', 'libx264', '-preset', 'veryfast', '-crf', '12', '-bf', '2', '-pix_fmt', 'yuv420p'],
    ],
  });
}
