/** A first look for the light's bands: which pair of advance a frame and bands a picture holds the most power. */
import { complexPower } from '../numeric/complexSpectrum.js';
import type { Flicker } from './flicker.js';

/** A pair that stands out. */
export interface BandPeak {
  /** Advance from one camera frame to the next, cycles of the light modulo 1, -0.5 .. 0.5. */
  readonly advance: number;
  /** Cycles over the coded height, from the first coded row down; not negative (the mirror pair says the same). */
  readonly bandsPerPicture: number;
  readonly power: number;
}

/** Frames that take part: the fit that follows uses all. */
const MOST_FRAMES = 8192;
/** Steps of bands over the rows that are there: the power falls by at most 3 % between two. */
const STEP_BANDS = 0.25;

/**
 * Peaks of the two-dimensional spectrum, strongest first, no two nearer than the resolution.
 * @param mostBands largest number of cycles over the coded height
 * @param stillCycles advances nearer to 0 than this many cycles over the clip are a slow change of light, no beat
 */
export function searchBands(flicker: Flicker, mostBands: number, stillCycles: number): readonly BandPeak[] {
  const { frameNumber, bands, position, relative, weight } = flicker;
  let frames = 0;
  while (frames < frameNumber.length && frameNumber[frames]! < MOST_FRAMES) frames++;
  const span = frameNumber[frames - 1]! + 1;
  let size = 4;
  while (size < 2 * span) size *= 2;
  const extent = Math.max(1 / bands, position[bands - 1]! - position[0]!);
  const step = STEP_BANDS / extent;
  const re = new Float64Array(span);
  const im = new Float64Array(span);
  const cosine = new Float64Array(bands);
  const sine = new Float64Array(bands);
  const found: BandPeak[] = [];
  for (let cycles = 0; cycles <= mostBands + step / 2; cycles += step) {
    for (let b = 0; b < bands; b++) {
      const angle = 2 * Math.PI * cycles * position[b]!;
      cosine[b] = weight[b]! * Math.cos(angle);
      sine[b] = -weight[b]! * Math.sin(angle);
    }
    re.fill(0);
    im.fill(0);
    for (let k = 0; k < frames; k++) {
      let c = 0;
      let s = 0;
      for (let b = 0, i = k * bands; b < bands; b++, i++) {
        c += cosine[b]! * relative[i]!;
        s += sine[b]! * relative[i]!;
      }
      re[frameNumber[k]!] = c;
      im[frameNumber[k]!] = s;
    }
    const power = complexPower(re, im, size);
    for (let m = 0; m < size; m++) {
      const p = power[m]!;
      if (p < power[(m + size - 1) % size]! || p < power[(m + 1) % size]!) continue;
      const advance = (m > size / 2 ? m - size : m) / size;
      if (Math.abs(advance) * span >= stillCycles) found.push({ advance, bandsPerPicture: cycles, power: p });
    }
  }
  found.sort((a, b) => b.power - a.power);
  const apart: BandPeak[] = [];
  for (const peak of found.slice(0, 2000)) {
    const near = apart.some(
      (a) =>
        Math.abs(wrapCycles(a.advance - peak.advance)) < 3 / span &&
        Math.abs(a.bandsPerPicture - peak.bandsPerPicture) < 2 / extent,
    );
    if (!near) apart.push(peak);
    if (apart.length >= 40) break;
  }
  return apart;
}

/** Cycles modulo 1, -0.5 .. 0.5. */
export function wrapCycles(cycles: number): number {
  return cycles - Math.round(cycles);
}
