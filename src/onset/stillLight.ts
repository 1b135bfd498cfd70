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
/** Frames that meet fewer phases of a rhythm keep pace with it. */
export const LOCKED_PHASES = 12;
/** The clocks of a display and a camera that keep pace with each other differ by about so much (common practice, no source). */
export const CLOCKS_SD = 5e-5;
// Stretches of a picture one above the other differ in brightness by about a factor of two (judgement).
const UNEVEN_SD = 0.7;
const IN_THE_DARK = 0.03;
const PHASE_BINS = 32;
const BIN_SHIFTS = 4;

/** One band's light against what a model says that each exposure caught. */
export interface BandFit {
  readonly openT: Float64Array;
  readonly values: Float64Array;
  /** What an exposure that opens then caught, up to the band's brightness. */
  readonly caught: (openT: number) => number;
  /** The most that one exposure may catch. */
  readonly most: number;
}

/** What a model makes of the light of all bands, each with its own brightness. */
export interface StillFit {
  /** Share of the light that is left unexplained. */
  readonly unexplained: number;
  /** Squared spread of the bands' brightness, in units of what pictures usually have: minus twice the log of its chance. */
  readonly uneven: number;
}

/**
 * Fits the brightness of each band. Bands that caught nothing hold no light and so do not count.
 * @param bend of the camera's tone curve, `g (1 + bend (1 - g / most))`, which half-caught pulses show as well.
 */
export function fitStill<B>(bands: readonly B[], bend: number, fitOf: (band: B) => BandFit): StillFit {
  let left = 0;
  let whole = 0;
  const seen: { light: number; caught: number }[] = [];
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
    seen.push({ light: Math.sqrt(yy / values.length), caught: Math.sqrt(gg / values.length) });
  }
  return { unexplained: whole > 0 ? left / whole : 1, uneven: unevenness(seen) };
}

/** Light of each band over what the model says that it caught; what little is left in the dark counts for nothing. */
function unevenness(bands: readonly { readonly light: number; readonly caught: number }[]): number {
  const most = (of: (b: (typeof bands)[number]) => number) => Math.max(1e-12, ...bands.map(of));
  const lightest = most((b) => b.light);
  const fullest = most((b) => b.caught);
  const logs = bands.map((b) =>
    Math.log((b.light / lightest + IN_THE_DARK) / (b.caught / fullest + IN_THE_DARK)),
  );
  const mean = logs.reduce((a, b) => a + b, 0) / Math.max(1, logs.length);
  return logs.reduce((sum, l) => sum + ((l - mean) / UNEVEN_SD) ** 2, 0);
}

/** Share of the light that a model leaves unexplained, each band with its own brightness. */
export function unexplained<B>(bands: readonly B[], bend: number, fitOf: (band: B) => BandFit): number {
  return fitStill(bands, bend, fitOf).unexplained;
}

/**
 * How many phases of the pulses the frames of one band meet. Frames locked to the pulses meet a few, which a rate that is
 * off by a trace would spread over the limit between two bins each: the limits are laid where they part the fewest.
 */
export function distinctPhases(openT: Float64Array, periodT: number): number {
  const counts = Array.from({ length: BIN_SHIFTS }, (_, i) => {
    const seen = new Set<number>();
    for (const t of openT) {
      const turns = t / periodT + i / (BIN_SHIFTS * PHASE_BINS);
      seen.add(Math.floor((turns - Math.floor(turns)) * PHASE_BINS + 1e-6));
    }
    return seen.size;
  });
  return Math.min(...counts);
}
