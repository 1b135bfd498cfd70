/** From a first guess at the light's bands to their law with an uncertainty that can be trusted. */
import { fitLine } from '../numeric/leastSquares.js';
import { fitPhase, type PhaseFit, type PhaseLaw } from './fitPhase.js';
import { type Flicker, fewerBands } from './flicker.js';

/** Harmonics of the light's waveform, and how many more are tried to see what was left out. */
const HARMONICS = 5;
const MORE_HARMONICS = 8;

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
 * Standard uncertainties: the covariance, or what pieces of the clip and of the rows say by their scatter where that is
 * more (codec, stabilisation, unsteady light).
 */
function spread({ wander, bend, ...fit }: PhaseFit): { readonly advance: number; readonly bands: number } {
  return {
    advance: larger(fit.advanceSd, wander.length < 4 ? 0 : slopeSd(wander)),
    bands: larger(
      fit.bandsSd,
      wander.length < 4 ? 0 : meanSd(wander.map((block) => block.bands)),
      bend.length < 4 ? 0 : slopeSd(bend),
    ),
  };
}

/**
 * The scatter of eight pieces has a t factor of 2.36, not 1.96. Scatter beyond chance has pieces that go together, so
 * that fewer of them count (judgement: a quarter).
 */
function larger(covariance: number, ...others: readonly number[]): number {
  return Math.max(covariance, ...others.map((sd) => sd * (sd > 2 * covariance ? 2 : 1.2)));
}

function slopeSd(pieces: readonly { readonly middle: number; readonly phase: number }[]): number {
  return fitLine(
    pieces.map((piece) => piece.middle),
    pieces.map((piece) => piece.phase),
  ).slopeUncertainty;
}

function meanSd(values: readonly number[]): number {
  const mean = values.reduce((sum, v) => sum + v, 0) / values.length;
  const squares = values.reduce((sum, v) => sum + (v - mean) ** 2, 0);
  return Math.sqrt(squares / (values.length - 1) / values.length);
}
