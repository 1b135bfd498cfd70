/** Light of still pictures against a model of the pulses behind it: what the model leaves, and how much the frames can tell. */

// A phone's tone curve bends light that is taken for linear by up to about twice this (simulated phone; judgement).
export const BEND_SD = 0.2;
/** Light that fits better than this fits by chance: tone curve and sampling leave more (simulated clips). */
export const FINEST_RESIDUAL = 3e-4;
/**
 * Frames that meet the pulses at the same phase repeat each other, errors of the model included, and bands side by side
 * do in part: so much of the number of phases and bands is believed.
 */
export const PHASES_BELIEVED = 0.3;
const PHASE_BINS = 32;

/** One band's light against what a model says that each exposure caught. */
export interface BandFit {
  readonly openT: Float64Array;
  readonly values: Float64Array;
  /** What an exposure that opens then caught, up to the band's brightness. */
  readonly caught: (openT: number) => number;
  /** The most that one exposure may catch. */
  readonly most: number;
}

/**
 * Share of the light that a model leaves unexplained, each band with its own brightness. Bands that caught nothing hold no
 * light and so do not count.
 * @param bend of the camera's tone curve, `g (1 + bend (1 - g / most))`, which half-caught pulses show as well.
 */
export function unexplained<B>(bands: readonly B[], bend: number, fitOf: (band: B) => BandFit): number {
  let left = 0;
  let whole = 0;
  for (const band of bands) {
    const { openT, values, caught, most } = fitOf(band);
    let gg = 0;
    let gy = 0;
    let yy = 0;
    for (let i = 0; i < values.length; i++) {
      let g = caught(openT[i]!);
      g *= 1 + bend * (1 - g / most);
      gg += g * g;
      gy += g * values[i]!;
      yy += values[i]! * values[i]!;
    }
    left += yy - (gg > 0 ? (gy * gy) / gg : 0);
    whole += yy;
  }
  return whole > 0 ? left / whole : 1;
}

/** How many phases of the pulses the frames of one band meet. */
export function distinctPhases(openT: Float64Array, periodT: number): number {
  const seen = new Set<number>();
  for (const t of openT) seen.add(Math.floor((t / periodT - Math.floor(t / periodT)) * PHASE_BINS + 1e-6));
  return seen.size;
}
