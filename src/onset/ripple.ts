/** Light that ripples within a plateau (dimmed backlight, short exposure): no Gaussian noise, it moves an edge by frames. */
import type { EdgeWindow } from './edgeWindow.js';

/** Flag of a change whose light ripples around it. */
export const FLICKERING = 'flickering-light';

// Scatter of a plateau over the step, above which it is ripple and not sensor noise.
const FLICKER = 0.1;
// Frames of a plateau begin this long before the frame that shows the change, capture periods.
const BEFORE_T = 1.5;
const LEAST_FRAMES = 6;
// Signs of noise without memory change every other frame.
const NOISE_RUN = 2;

/** How far ripple may move an edge: standard uncertainty, capture periods; null where the plateaus are still. */
export function rippleShiftT(window: EdgeWindow, step: number): number | null {
  const worst = Math.max(...window.channels.map((c) => Math.max(c.varianceBefore, c.varianceAfter)));
  const ripple = Math.sqrt(worst) / step;
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

/** Frames for which light stays on one side of its mean, on average. */
function meanRun(values: Float64Array): number {
  const mean = values.reduce((a, b) => a + b, 0) / values.length;
  let turns = 0;
  for (let k = 1; k < values.length; k++) if (values[k]! > mean !== values[k - 1]! > mean) turns++;
  return values.length / (turns + 1);
}
