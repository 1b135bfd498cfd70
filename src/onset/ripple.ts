/** Light that ripples within a plateau (dimmed backlight, short exposure): no Gaussian noise, it moves an edge by frames. */
import type { EdgePosterior } from './edgeFit.js';
import { type EdgeShape, levelTime } from './edgeShape.js';
import type { EdgeWindow } from './edgeWindow.js';

/** Flag of a change whose light ripples around it. */
export const FLICKERING = 'flickering-light';

// Scatter of a plateau over the step, above which it is ripple and not sensor noise.
const FLICKER = 0.1;
// Frames of a plateau begin this long before the frame that shows the change, capture periods.
const BEFORE_T = 1.5;
const LEAST_FRAMES = 6;
// Frames that scatter by this part of an edge's step show that it has no plateaus: light in single pulses, a few of which
// are caught.
const NO_PLATEAU = 0.5;
const SETTLED = 0.98;
// Signs of noise without memory change every other frame.
const NOISE_RUN = 2;

/**
 * How far ripple may move an edge: standard uncertainty, capture periods; null where the plateaus are still.
 * @param unrest of the edge's own frames, see `unrestOf`; left out: only the noise of all plateaus counts.
 */
export function rippleShiftT(window: EdgeWindow, step: number, unrest = 0): number | null {
  const worst = Math.max(...window.channels.map((c) => Math.max(c.varianceBefore, c.varianceAfter)));
  const ripple = Math.max(Math.sqrt(worst) / step, unrest > NO_PLATEAU ? unrest : 0);
  if (ripple <= FLICKER) return null;
  // A ripple that takes many frames to come and go hides a change for as long.
  const runs = window.channels.flatMap(({ values, openT }) => {
    const crossing = openT.findIndex((t) => t > -0.5);
    const settled = crossing + ((values.length - crossing) >> 1);
    const before = values.slice(
      0,
      Math.max(
        0,
        openT.findIndex((t) => t > -BEFORE_T),
      ),
    );
    return [before, values.slice(settled)].filter((part) => part.length >= LEAST_FRAMES).map(meanRun);
  });
  runs.sort((a, b) => a - b);
  const frames = Math.max(1, (runs[runs.length >> 1] ?? NOISE_RUN) / NOISE_RUN);
  return 2 * ripple * frames;
}

/** How far an edge's own frames scatter on either side of it, over its step: standard deviation, of the worst band. */
export function unrestOf({ channels }: EdgeWindow, shape: EdgeShape, posterior: EdgePosterior): number {
  const { meanT, before, after } = posterior;
  const settledT = meanT + levelTime(SETTLED, shape);
  const sides = channels.flatMap(({ values, openT }) => [
    values.filter((_, k) => openT[k]! < meanT - BEFORE_T),
    values.filter((_, k) => openT[k]! > settledT),
  ]);
  return Math.sqrt(Math.max(...sides.map(variance))) / Math.abs(after - before);
}

/** 0 of fewer than two values. */
function variance(values: Float64Array): number {
  const mean = values.reduce((a, b) => a + b, 0) / values.length;
  return values.reduce((sum, v) => sum + (v - mean) ** 2, 0) / Math.max(1, values.length - 1);
}

/** Frames for which light stays on one side of its mean, on average. */
function meanRun(values: Float64Array): number {
  const mean = values.reduce((a, b) => a + b, 0) / values.length;
  let turns = 0;
  for (let k = 1; k < values.length; k++) if (values[k]! > mean !== values[k - 1]! > mean) turns++;
  return values.length / (turns + 1);
}
