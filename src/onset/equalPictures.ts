/**
 * A region whose picture changes without getting brighter or darker as a whole, such as a menu, on a screen that shines in
 * pulses: all of its frames look still, but those of one picture are not like those of another in every row. Its pulses are
 * found in light that is scaled, band by band, as if the picture had stayed the same.
 */
import type { Trace } from '../trace/trace.js';
import { type Beat, findBeat } from './beat.js';
import { findChanges } from './changes.js';
import { withoutBeat } from './withoutBeat.js';

// A beat that explains this share of the fast variation has met one picture only.
const ONE_PICTURE = 0.985;
// Frames of a picture from which on its brightness is known.
const LEAST_FRAMES = 16;
// A picture with less than this share of a band's usual light says nothing about its pulses.
const LEAST_LIGHT = 0.08;

/** Frames from inclusive, to exclusive. */
type Span = readonly [from: number, to: number];

/** Frames of one picture between two changes, and those of them in which it is surely still. */
interface Shown {
  readonly all: Span;
  readonly still: Span;
}

/**
 * The beat of a region, as if its picture had been the same in all frames.
 * @param beat as found without thinking of pictures; given back where it explains the light already.
 * @param windowFrames camera frames of about one refresh.
 */
export function beatOfOnePicture(
  trace: Trace,
  beat: Beat,
  expectedHz: readonly number[],
  windowFrames: number,
): Beat {
  if (beat.explained > ONE_PICTURE || beat.dimFrames.length > 0) return beat;
  const pictures = picturesOf(trace, beat, windowFrames);
  if (pictures.length < 2) return beat;
  const { cells } = trace;
  const light = Float32Array.from(trace.light);
  const isStill = new Uint8Array(trace.frames);
  const levels = beat.bands.map((_, b) => pictures.map(({ still }) => brightness(beat, b, still)));
  const usual = levels.map((all) => [...all].sort((a, b) => a - b)[all.length >> 1]!);
  pictures.forEach(({ all, still }, p) => {
    if (levels.some((own, b) => !(own[p]! > LEAST_LIGHT * usual[b]!))) return;
    isStill.fill(1, ...still);
    for (let k = all[0]; k < all[1]; k++) {
      for (let c = 0; c < cells; c++) {
        const b = beat.bandOfCell[c]!;
        const steady = beat.steady[b]!;
        light[k * cells + c] = steady + ((light[k * cells + c]! - steady) * usual[b]!) / levels[b]![p]!;
      }
    }
  });
  const equal = findBeat({ ...trace, light }, expectedHz);
  if (!equal || equal.explained < beat.explained) return beat;
  return { ...equal, stillFrames: equal.stillFrames.filter((k) => isStill[k]), isOfPictures: true };
}

/** All pictures that stay for long enough to be known. */
function picturesOf(trace: Trace, beat: Beat, windowFrames: number): Shown[] {
  const changes = findChanges(withoutBeat(trace, beat), { windowFrames }).map((c) => c.frame);
  return [...changes, trace.frames].flatMap((to, i) => {
    const from = changes[i - 1] ?? 0;
    const still: Span = [i === 0 ? 0 : from + windowFrames, to - windowFrames];
    return still[1] - still[0] < LEAST_FRAMES ? [] : [{ all: [from, to] as const, still }];
  });
}

/** Light of a band in a picture, over what the beat lets through. */
function brightness(beat: Beat, band: number, [from, to]: Span): number {
  const { signal } = beat.bands[band]!;
  const gain = beat.gains[band]!;
  let gg = 0;
  let gy = 0;
  for (let k = from; k < to; k++) {
    gg += gain[k]! * gain[k]!;
    gy += gain[k]! * signal[k]!;
  }
  return gg > 0 ? gy / gg : 0;
}
