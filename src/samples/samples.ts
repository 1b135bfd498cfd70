/** The archive boundary: each region as a small grid of linear light per frame. All later stages run from this alone. */
import type { Region } from '../region/region.js';

/** Stored light of one unit: 1.0 (white) is `LIGHT_SCALE`; super-white up to 1.31 fits. */
export const LIGHT_SCALE = 50_000;

/** One region's grid of light over the whole clip. */
export interface RegionSamples {
  readonly region: Region;
  /** Grid size in upright orientation; a cell is one pixel where the region is small enough. */
  readonly columns: number;
  readonly rows: number;
  /** Side of a (square) cell, px. */
  readonly cellPx: number;
  /** `frames * rows * columns`, frame after frame, row by row: mean linear light of the cell times `LIGHT_SCALE`. */
  readonly light: Uint16Array;
  /** Share of frames (0..1) in which any pixel of the cell was clipped; one a cell. */
  readonly clippedShare: Float32Array;
  /** Middle of each cell in the sensor's readout, 0 (first coded row) .. 1; one a cell. */
  readonly readoutPosition: Float32Array;
}

/** What one pass over a clip leaves behind. */
export interface ClipSamples {
  readonly frames: number;
  readonly regions: readonly RegionSamples[];
  /** Mean absolute change of code values from the frame before, over all regions; entry 0 is 0. For doubled frames. */
  readonly frameChange: Float32Array;
}
