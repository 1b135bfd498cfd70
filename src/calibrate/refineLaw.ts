/** From a first guess at the light's bands to their law with an uncertainty that can be trusted. */
import { fitLine } from '../numeric/leastSquares.js';
import { fitPhase, type PhaseFit, type PhaseLaw } from './fitPhase.js';
import { type Flicker, fewerBands } from './flicker.js';

/** Harmonics of the light's waveform, and how many more are tried to see what was left out. */
const HARMONICS = 5;
const MORE_HARMONICS = 10;

/** A law with standard uncertainties that hold what covariance alone leaves out. */
export interface RefinedLaw extends PhaseFit {
  /** Cycles a frame, and cycles over the coded height. */
  readonly sds: { readonly advance: number; readonly bands: number };
}

/**
 * First harmonic on few bands of rows, then the waveform on enough. What the law moves by when more of the waveform
 * is fitted is taken as the standard uncertainty of what is still left out.
 * @param start within the resolution of `searchBands`
 * @returns null where rows and frames do not determine a law
 */
export function refineLaw(flicker: Flicker, start: PhaseLaw): RefinedLaw | null {
  const rows = Math.max(48, Math.ceil(24 * start.bandsPerPicture));
  const reduced = fewerBands(flicker, rows);
  const first = fitPhase(reduced, start, 1);
  const plain = first && fitPhase(reduced, first, HARMONICS);
  const full = plain && fitPhase(reduced, plain, MORE_HARMONICS);
  if (!full) return null;
  const { advance, bands } = spread(full);
  return {
    ...full,
    sds: {
      advance: Math.hypot(advance, full.advance - plain.advance),
      bands: Math.hypot(bands, full.bandsPerPicture - plain.bandsPerPicture),
    },
  };
}

/**
 * Standard uncertainties: the covariance, or what the pieces of the clip say by their scatter where that is more
 * (codec, unsteady light).
 */
function spread(fit: PhaseFit): { readonly advance: number; readonly bands: number } {
  const { wander } = fit;
  if (wander.length < 4) return { advance: fit.advanceSd, bands: fit.bandsSd };
  const mean = wander.reduce((sum, b) => sum + b.bands, 0) / wander.length;
  const variance = wander.reduce((sum, b) => sum + (b.bands - mean) ** 2, 0) / (wander.length - 1);
  const line = fitLine(
    wander.map((b) => b.middle),
    wander.map((b) => b.phase),
  );
  return {
    advance: Math.max(fit.advanceSd, line.slopeUncertainty),
    bands: Math.max(fit.bandsSd, Math.sqrt(variance / wander.length)),
  };
}
