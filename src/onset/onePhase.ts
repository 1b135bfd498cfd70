/** Whether a display's refreshes meet the camera's frames at one phase only. */

// Refreshes that move against the frames by less than this over a clip stay at one phase, capture periods.
const SAME_T = 0.25;

/**
 * True where all changes of a clip come at the same time within a camera frame, so that a few light levels are all that is
 * seen of the form of a response.
 * @param refreshT refresh period, capture periods.
 */
export function meetsOnePhase(refreshT: number, frames: number): boolean {
  const ratio = Math.max(refreshT, 1 / refreshT);
  const off = Math.abs(ratio - Math.round(ratio));
  return off * frames * Math.min(refreshT, 1 / refreshT) < SAME_T;
}
