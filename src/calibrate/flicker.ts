/** The flicker of a light by rows and frames: what is left of the profiles when the still picture is divided out. */
import type { RowProfiles } from './rowProfiles.js';

/** Relative light, ready to be fitted. */
export interface Flicker {
  /** Captured numbers of the camera frames: a frame that is missing in the file leaves a gap. */
  readonly frameNumber: Float64Array;
  readonly bands: number;
  /** Middle of each band as a share of the coded height. */
  readonly position: Float64Array;
  /** `frames * bands`: light over the band's mean light, less 1. */
  readonly relative: Float32Array;
  /** Weight of each band, 0..1: dim bands are noisier when divided by their light. */
  readonly weight: Float64Array;
}

/** A band this much dimmer than the brightest says nothing. */
const DARKEST = 0.02;

/**
 * Divides each band by its mean over the clip.
 * @param missingBefore camera frames missing before each frame, as the capture clock counts them
 */
export function flickerOf(profiles: RowProfiles, missingBefore: ArrayLike<number>): Flicker {
  const { frames, bands, light, position } = profiles;
  const mean = new Float64Array(bands);
  for (let k = 0, i = 0; k < frames; k++) {
    for (let b = 0; b < bands; b++, i++) mean[b]! += light[i]! / frames;
  }
  const brightest = Math.max(...mean, 1e-9);
  const weight = mean.map((m) => (m < DARKEST * brightest ? 0 : (m / brightest) ** 2));
  const relative = new Float32Array(frames * bands);
  for (let k = 0, i = 0; k < frames; k++) {
    for (let b = 0; b < bands; b++, i++) relative[i] = weight[b] === 0 ? 0 : light[i]! / mean[b]! - 1;
  }
  const frameNumber = new Float64Array(frames);
  for (let k = 1; k < frames; k++) frameNumber[k] = frameNumber[k - 1]! + 1 + (missingBefore[k] ?? 0);
  return { frameNumber, bands, position, relative, weight };
}

/** Joins neighbouring bands until no more than `most` are left; weights and places follow. */
export function fewerBands(flicker: Flicker, most: number): Flicker {
  const join = Math.ceil(flicker.bands / most);
  if (join <= 1) return flicker;
  const bands = Math.ceil(flicker.bands / join);
  const frames = flicker.frameNumber.length;
  const weight = new Float64Array(bands);
  const position = new Float64Array(bands);
  for (let b = 0; b < flicker.bands; b++) {
    weight[Math.floor(b / join)]! += flicker.weight[b]!;
    position[Math.floor(b / join)]! += flicker.weight[b]! * flicker.position[b]!;
  }
  for (let b = 0; b < bands; b++) position[b] = weight[b]! > 0 ? position[b]! / weight[b]! : 0;
  const relative = new Float32Array(frames * bands);
  for (let k = 0; k < frames; k++) {
    for (let b = 0; b < flicker.bands; b++) {
      const to = Math.floor(b / join);
      if (weight[to] === 0) continue;
      relative[k * bands + to]! +=
        (flicker.weight[b]! * flicker.relative[k * flicker.bands + b]!) / weight[to]!;
    }
  }
  return { frameNumber: flicker.frameNumber, bands, position, relative, weight };
}
