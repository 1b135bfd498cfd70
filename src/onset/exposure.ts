/** The exposure fraction from the clip itself: how often, and how far, instant edges show a partly lit frame. */
import { type BlurredShape, blurShape, fitEdge } from './edgeFit.js';
import type { EdgeShape } from './edgeShape.js';
import type { EdgeWindow } from './edgeWindow.js';

/** Exposure fraction with its evidence. */
export interface ExposureEstimate {
  /** Posterior mean, 0..1. */
  readonly fraction: number;
  readonly interval: readonly [number, number];
  /** Edges that were used. */
  readonly edges: number;
}

const STEP = 0.025;

/** Log evidence of a shape, the exposure fraction averaged over the given values. */
export function exposureEvidence(
  windows: readonly EdgeWindow[],
  shape: EdgeShape,
  misfit: number,
  exposures: readonly number[],
): number {
  const logs = exposures.map((e) => logEvidence(windows, shape, misfit, e));
  const best = Math.max(...logs);
  return best + Math.log(logs.reduce((sum, l) => sum + Math.exp(l - best), 0) / logs.length);
}

/** Log evidence that an edge has at the exposure fraction that explains it best; one a window. */
export function bestEvidences(
  windows: readonly EdgeWindow[],
  shape: EdgeShape,
  misfit: number,
  exposures: readonly number[],
): number[] {
  const blurred = exposures.map((e) => blurShape(shape, e));
  return windows.map((window) => Math.max(...blurred.map((edge) => edgeEvidence(window, edge, misfit))));
}

function logEvidence(
  windows: readonly EdgeWindow[],
  shape: EdgeShape,
  misfit: number,
  exposure: number,
): number {
  const edge = blurShape(shape, exposure);
  return windows.reduce((sum, window) => sum + edgeEvidence(window, edge, misfit), 0);
}

/** An edge that cannot be explained at all must not decide; it counts as very unlikely, once. */
function edgeEvidence(window: EdgeWindow, edge: BlurredShape, misfit: number): number {
  return Math.max(fitEdge(window, edge, misfit, 60)?.logEvidence ?? -1e6, -1e6);
}

/**
 * Posterior of the exposure fraction from edges of one shape (an LED's, both on and off), uniform prior on (0, 1]; or of one
 * of several shapes, all alike beforehand.
 * A partly lit frame happens with probability `e` and its share is uniform (check-values 5.3); here the whole
 * likelihood of every edge is used, so that noise and half-seen edges weigh as they should.
 */
export function estimateExposure(
  windows: readonly EdgeWindow[],
  shapes: readonly EdgeShape[],
  misfit: number,
): ExposureEstimate | null {
  if (windows.length < 4) return null;
  const grid: number[] = [];
  for (let e = STEP; e <= 1 + 1e-9; e += STEP) grid.push(Math.min(1, e));
  const tried = shapes.map((s) => grid.map((e) => logEvidence(windows, s, misfit, e)));
  const top = Math.max(...tried.flat());
  const logs = grid.map((_, i) => Math.log(tried.reduce((sum, l) => sum + Math.exp(l[i]! - top), 0)));
  const best = Math.max(...logs);
  const weights = logs.map((l) => Math.exp(l - best));
  const total = weights.reduce((a, b) => a + b, 0);
  const fraction = grid.reduce((sum, e, i) => sum + e * weights[i]!, 0) / total;
  const at = (p: number): number => {
    let sum = 0;
    for (let i = 0; i < grid.length; i++) {
      sum += weights[i]! / total;
      if (sum >= p) return grid[i]!;
    }
    return 1;
  };
  return { fraction, interval: [at(0.025), at(0.975)], edges: windows.length };
}
