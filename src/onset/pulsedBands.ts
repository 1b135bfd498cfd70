/** One region's light for the fit of its pulses. */
import type { Band } from './windows.js';

/** Bands of a region, where it lies, and when its picture is bright and still. */
export interface PulsedBands {
  readonly parts: readonly Band[];
  readonly topPx: number;
  readonly heightPx: number;
  /** Camera frames in which the picture is bright and still, ascending. */
  readonly stillFrames: readonly number[];
}
