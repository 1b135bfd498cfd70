/** Contact bounce as a fast camera sees it: the LED dips again within milliseconds of its edge. */
import type { EdgeWindow } from './edgeWindow.js';
import type { Crossing } from './windows.js';

/** Share of the step by which the light must fall back to be a dip, and from which on a frame shows the new state. */
const DIP = 0.12;
/** A dip is this far out of the noise. */
const DIP_OVER_NOISE = 5;
/** Edges of one direction that must dip before all of them count as bouncing: a dip may fall between two frames. */
const LEAST_DIPS = 2;

/** How the edges of one direction bounce. */
export interface Bounce {
  readonly sign: 1 | -1;
  /** Frames after the first one that shows the new state in which the light may be anything. */
  readonly frames: number;
}

/**
 * Whether the edges of each direction bounce visibly: light that dips as well long after its edges is dimmed by pulses that
 * a short exposure does not even out.
 * @param levels the LED's two levels, and the step over the noise of a frame.
 * @param bounceFrames how long a contact may bounce.
 */
export function findBounce(
  signal: Float64Array,
  levels: { readonly low: number; readonly high: number; readonly contrast: number },
  crossings: readonly Crossing[],
  bounceFrames: number,
): Bounce[] {
  if (levels.contrast * DIP < DIP_OVER_NOISE) return [];
  return ([1, -1] as const).flatMap((sign) => {
    const edges = crossings.filter((c) => c.sign === sign);
    let dips = 0;
    let laterDips = 0;
    let frames = 0;
    for (const { frame } of edges) {
      const first = firstShown(signal, levels, frame, sign);
      const edge = dipAfter(signal, levels, first, sign, bounceFrames);
      frames = Math.max(frames, edge.frames);
      if (edge.hasDip) dips++;
      const later = first + 2 * bounceFrames;
      const next = crossings.find((c) => c.frame > frame)?.frame ?? signal.length;
      if (later + bounceFrames >= next - 1) continue;
      if (dipAfter(signal, levels, later, sign, bounceFrames).hasDip) laterDips++;
    }
    const bounces = dips >= Math.min(LEAST_DIPS, edges.length) && dips > 2 * laterDips;
    return bounces ? [{ sign, frames }] : [];
  });
}

/** Whether the light falls back within some frames of one, and the last frame that lacks some of the new state. */
function dipAfter(
  signal: Float64Array,
  levels: { readonly low: number; readonly high: number },
  first: number,
  sign: 1 | -1,
  bounceFrames: number,
): { readonly hasDip: boolean; readonly frames: number } {
  const share = (k: number) => shareAt(signal, levels, k, sign);
  const last = Math.min(signal.length - 1, first + bounceFrames);
  const settled = share(last);
  let most = share(first);
  let hasDip = false;
  let frames = 0;
  for (let k = first + 1; k <= last; k++) {
    if (share(k) < Math.min(most, settled) - DIP) hasDip = true;
    if (share(k) < settled - DIP) frames = k - first;
    most = Math.max(most, share(k));
  }
  return { hasDip, frames };
}

/** The window without the frames in which a bouncing contact may have opened again: the first closure counts. */
export function withoutBounce(
  window: EdgeWindow,
  signal: Float64Array,
  levels: { readonly low: number; readonly high: number },
  { frame, sign }: Crossing,
  bounce: Bounce,
): EdgeWindow {
  const first = firstShown(signal, levels, frame, sign);
  const keep = (i: number) => {
    const k = window.firstFrame + i;
    return k <= first || k > first + bounce.frames;
  };
  const channels = window.channels.map((channel) => ({
    ...channel,
    values: channel.values.filter((_, i) => keep(i)),
    openT: channel.openT.filter((_, i) => keep(i)),
  }));
  return { ...window, channels };
}

/** The first frame around a crossing that clearly shows some of the new state. */
function firstShown(
  signal: Float64Array,
  levels: { readonly low: number; readonly high: number },
  frame: number,
  sign: 1 | -1,
): number {
  let first = frame;
  while (first > 0 && frame - first < 2 && shareAt(signal, levels, first - 1, sign) > DIP) first--;
  return first;
}

/** How much of the new state a frame shows, 0..1. */
function shareAt(
  signal: Float64Array,
  { low, high }: { readonly low: number; readonly high: number },
  frame: number,
  sign: 1 | -1,
): number {
  const share = (signal[frame]! - low) / (high - low);
  return sign > 0 ? share : 1 - share;
}
