/** Contact bounce as a fast camera sees it: the LED dips again within milliseconds of its edge. */
import type { EdgeWindow } from './edgeWindow.js';
import type { Crossing } from './windows.js';

/** Share of the step by which the light must fall back to be a dip. */
const DIP = 0.12;
/** What is more than this share of the step, and than so many times the noise, is no accident: tone curves bend less. */
const LEAST_SHARE = 0.03;
const OVER_NOISE = 5;
/** Edges of one direction that must dip before all of them count as bouncing: a dip may fall between two frames. */
const LEAST_DIPS = 2;
/** Edges that must take long, and their share of all of their direction, to count as bouncing where the other way does not. */
const LEAST_LONG = 4;
const LONG_SHARE = 0.25;

/** An edge that bounces, as the edges of its direction do. */
export interface Bounce {
  /** The first frame that shows the new state. */
  readonly first: number;
  /** Frames after that in which the light may be anything. */
  readonly frames: number;
  /** The most of one frame's light that a dip took, 0..1. */
  readonly lack: number;
  /** Share of the edges whose second frame lacks some already, 0..1. */
  readonly soon: number;
}

/** How much earlier than it seems an edge may be, with mean and standard deviation of that, capture periods. */
export interface Earlier {
  readonly mostT: number;
  readonly meanT: number;
  readonly sdT: number;
}

/** The two levels of an LED, and the step between them over the noise of a frame. */
interface LedLevels {
  readonly low: number;
  readonly high: number;
  readonly contrast: number;
}

/** The light from the first frame of a new state on. */
interface AfterEdge extends Pick<Bounce, 'first' | 'frames' | 'lack'> {
  /** It falls back. */
  readonly hasDip: boolean;
  /** Frames that show neither state. */
  readonly partlyLit: number;
  /** The second frame lacks some of the new state. */
  readonly lacksSoon: boolean;
}

interface JudgedEdge extends AfterEdge, Pick<Crossing, 'sign'> {
  /** It falls back long after the edge as well. */
  readonly dipsLater: boolean;
}

/**
 * Whether the edges of each direction bounce visibly: light that dips as well long after its edges is dimmed by pulses that
 * a short exposure does not even out. A dip that is shorter than a frame only takes some of its light: then edges of one
 * direction show several partly lit frames, which those of a slow light do both ways.
 * @param bounceFrames how long a contact may bounce.
 * @returns one a crossing; null where its direction does not bounce.
 */
export function findBounces(
  signal: Float64Array,
  levels: LedLevels,
  crossings: readonly Crossing[],
  bounceFrames: number,
): (Bounce | null)[] {
  if (levels.contrast * DIP < OVER_NOISE) return crossings.map(() => null);
  const edges = crossings.map((crossing, i): JudgedEdge => {
    const share = sharesOf(signal, levels, crossing);
    const first = firstShown(share, levels, crossing.frame);
    const later = first + 2 * bounceFrames;
    const next = crossings[i + 1]?.frame ?? signal.length;
    const until = (from: number) => Math.min(signal.length - 1, from + bounceFrames);
    const isLong = later + bounceFrames < next - 1;
    return {
      sign: crossing.sign,
      ...afterEdge(share, levels, first, until(first)),
      dipsLater: isLong && afterEdge(share, levels, later, until(later)).hasDip,
    };
  });
  const rise = bounceOf(edges, 1);
  const fall = bounceOf(edges, -1);
  return edges.map(({ sign, first }) => {
    const shared = sign > 0 ? rise : fall;
    return shared && { ...shared, first };
  });
}

/** What the edges of one direction share, if they bounce. */
function bounceOf(edges: readonly JudgedEdge[], sign: 1 | -1): Omit<Bounce, 'first'> | null {
  const own = edges.filter((e) => e.sign === sign);
  const others = edges.filter((e) => e.sign !== sign);
  const dips = own.filter((e) => e.hasDip).length;
  const dipsSeen =
    dips >= Math.min(LEAST_DIPS, own.length) && dips > 2 * own.filter((e) => e.dipsLater).length;
  const isLongAlone =
    own.filter((e) => e.partlyLit > 1).length >= Math.max(LEAST_LONG, LONG_SHARE * own.length) &&
    others.length >= LEAST_LONG &&
    others.every((e) => e.partlyLit < 2);
  if (!dipsSeen && !isLongAlone) return null;
  return {
    frames: Math.max(...own.map((e) => e.frames)),
    lack: Math.min(1, Math.max(...own.map((e) => e.lack))),
    soon: own.filter((e) => e.lacksSoon).length / own.length,
  };
}

/** What the light does from the first frame of a new state to the last that a bounce may touch. */
function afterEdge(share: Share, levels: LedLevels, first: number, last: number): AfterEdge {
  const least = leastShare(levels);
  const settled = share(last);
  let most = share(first);
  let hasDip = false;
  let partlyLit = most < settled - least ? 1 : 0;
  let frames = 0;
  let lack = 0;
  const lacksSoon = share(first + 1) < settled - least;
  for (let k = first + 1; k <= last; k++) {
    if (share(k) < Math.min(most, settled) - DIP) hasDip = true;
    most = Math.max(most, share(k));
    if (share(k) >= settled - least) continue;
    frames = k - first;
    lack = Math.max(lack, settled - share(k));
    if (share(k) > least) partlyLit++;
  }
  return { first, hasDip, partlyLit, frames, lack, lacksSoon };
}

/** The smallest share of the step that is told from either state. */
function leastShare({ contrast }: LedLevels): number {
  return Math.min(DIP, Math.max(LEAST_SHARE, OVER_NOISE / contrast));
}

/** The window without the frames in which a bouncing contact may have opened again: the first closure counts. */
export function withoutBounce(window: EdgeWindow, { first, frames }: Bounce): EdgeWindow {
  const keep = (i: number) => {
    const k = window.firstFrame + i;
    return k <= first || k > first + frames;
  };
  const channels = window.channels.map((channel) => ({
    ...channel,
    values: channel.values.filter((_, i) => keep(i)),
    openT: channel.openT.filter((_, i) => keep(i)),
  }));
  return { ...window, channels };
}

// Dips come a while after the closure: its frame holds one less often than the next does (judgement).
const AS_SOON = 0.25;

/**
 * How much earlier than it seems the first closure may be, as a dip may have taken some of the light of the first frame that
 * shows it: by as much as dips took of a frame's light later; and where that is all that lacks, back to the end of the
 * exposure before. Nothing where the first frame is fully lit, or no second frame ever lacks light.
 * @param onsetT the closure as it seems, capture periods from the window's origin.
 * @param exposure fraction.
 */
export function mayBeEarlier(
  window: EdgeWindow,
  { first, lack, soon }: Bounce,
  onsetT: number,
  exposure: number,
): Earlier {
  const darkT = onsetT - window.channels[0]!.openT[first - window.firstFrame]!;
  const chance = AS_SOON * soon;
  if (!(darkT > 0) || chance === 0) return NOT_EARLIER;
  const takenT = lack * exposure;
  const mostT = darkT > takenT ? takenT : darkT + 1 - exposure;
  // By any part of the most, with that chance, or else not at all.
  return {
    mostT,
    meanT: (chance * mostT) / 2,
    sdT: mostT * Math.sqrt(chance / 3 - (chance / 2) ** 2),
  };
}

/** Of an edge that does not bounce. */
export const NOT_EARLIER: Earlier = { mostT: 0, meanT: 0, sdT: 0 };

/** The first frame around a crossing that surely shows some of the new state; a dip may take all of the frame after it. */
function firstShown(share: Share, levels: LedLevels, frame: number): number {
  const least = leastShare(levels);
  for (let k = Math.max(0, frame - 2); k < frame; k++) if (share(k) > least) return k;
  return frame;
}

/** How much of the new state a frame shows, 0..1. */
type Share = (frame: number) => number;

/** Shares at one edge, from the level right before it: the room's light may drift. */
function sharesOf(signal: Float64Array, { low, high }: LedLevels, { frame, sign }: Crossing): Share {
  const before = signal.slice(Math.max(0, frame - 8), Math.max(1, frame - 2)).sort();
  const rest = before[before.length >> 1]!;
  return (k) => (sign * (signal[k]! - rest)) / (high - low);
}
