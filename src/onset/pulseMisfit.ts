/**
 * How badly a lattice knows the light that frames catch of its pulses: half-caught ones under an unknown tone curve, above
 * all. It is an error of the light, so that pictures that differ little are told apart the worse for it.
 */
import type { PulseTrain } from './pulseTrain.js';
import type { Band } from './windows.js';

/** Neighbouring frames and bands share a part of what is left of them: so many count as one. */
export const ALIKE = 2;
// Error of a pulse's caught light by the model, relative to it: half-caught pulses under a phone's tone curve.
const MISFIT = 0.15;
// A backlight's flash that was caught whole is known much better.
const MISFIT_WHOLE = 0.03;
// A train that explains still pictures well explains half-caught flashes well, too.
const MISFIT_RESIDUAL = 5;
const FEWEST_FRAMES = 8;

/** Error of a band's caught light (whole pulses) as supposed beforehand: in one band, and where bands side by side share it. */
export function supposedMisfit({ slopeT, residual }: PulseTrain, bands: number) {
  if (slopeT !== 0) return { common: (g: number) => MISFIT * g, together: (g: number) => MISFIT * g };
  const partly = Math.min(MISFIT, MISFIT_WHOLE + MISFIT_RESIDUAL * Math.sqrt(residual));
  const times = Math.sqrt(Math.max(1, bands / ALIKE));
  const common = (g: number) => MISFIT_WHOLE * g + partly * 4 * Math.max(0, g * (1 - g));
  return { common, together: (g: number) => times * common(g) };
}

/** A band whose light is known. */
interface KnownBand {
  readonly band: Band;
  /** Share of a pulse that a frame catches. */
  readonly light: (frame: number) => number;
}

/**
 * Size of the misfit as still pictures show it, over the supposed one: what bands side by side have in common of what the
 * lattice leaves of their light, each still span (half-open range of frames) with a brightness of its own. The middle one
 * of all spans, by their light, as it may change within one.
 */
export function misfitSeen(
  bands: readonly KnownBand[],
  spans: readonly (readonly [from: number, to: number])[],
  supposed: (g: number) => number,
): number {
  const squares = spans.flatMap(([from, to]) => {
    if (to - from < FEWEST_FRAMES) return [];
    const left = bands.map((b) => leftOf(b, from, to, supposed));
    let [shared, likely] = [0, 0];
    for (let b = 1; b < left.length; b++) {
      left[b]!.rest.forEach((r, i) => {
        shared += r * left[b - 1]!.rest[i]!;
        likely += left[b]!.likely[i]! * left[b - 1]!.likely[i]!;
      });
    }
    return likely > 0 ? [{ size: shared / likely, weight: likely }] : [];
  });
  squares.sort((a, b) => a.size - b.size);
  // Dark pictures show little of it, and count for as little.
  const half = squares.reduce((sum, s) => sum + s.weight, 0) / 2;
  let [i, passed] = [0, squares[0]?.weight ?? 0];
  while (passed < half && i < squares.length - 1) passed += squares[++i]!.weight;
  return Math.sqrt(Math.max(0, squares[i]?.size ?? 0));
}

/** What is left of a still span's light, and the misfit supposed of it. */
function leftOf({ band, light }: KnownBand, from: number, to: number, supposed: (g: number) => number) {
  const caught: number[] = [];
  let [gg, gy] = [0, 0];
  for (let k = from; k < to; k++) {
    const g = light(k);
    caught.push(g);
    gg += g * g;
    gy += g * band.signal[k]!;
  }
  const energy = gg > 0 ? gy / gg : 0;
  return {
    rest: caught.map((g, i) => band.signal[from + i]! - energy * g),
    likely: caught.map((g) => Math.abs(energy) * supposed(g)),
  };
}
