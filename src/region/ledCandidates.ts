/** Which patches of a clip may be the LED, and when each would have been pressed. */
import type { BlockContrasts, Overview } from './activity.js';
import { commonestPart } from './commonestPart.js';
import type { Patch } from './patches.js';

// A light that switches within this time of another is the same light seen twice (glow, reflection).
const SAME_LIGHT_S = 0.006;
const LED_LARGEST_SHARE = 0.03;
const LED_CANDIDATES = 24;
/** Presses that come closer together than this are no person's. */
const LEAST_INTERVAL_S = 0.12;
/**
 * Edges that a light must show to be one by its alternation alone, and how far most may be from the usual size: somebody
 * who walks by changes the camera's exposure for a few of them, or hides one.
 */
const LEAST_SWITCHES = 6;
const LIKE_USUAL = 0.4;
const LIKE_SHARE = 0.8;
/** Of ten edges one may follow another of its kind: more, and noise alternates as well. */
const IN_TURN_SHARE = 0.9;
/** Share of the changes that must be the first of a burst: what changes more often than that is moving picture. */
const LEAST_FIRSTS = 0.3;
/**
 * With so many of its presses at the changes of something so many times as bright in another place, a light is its glow or
 * mirror image; unless that changes so often that chance does as well.
 */
const IMAGE_SHARE = 0.7;
const BRIGHTER = 2;
const CROWDED = 0.3;

/** A patch that may be the LED, and its switching in one direction as presses. */
export interface Candidate {
  readonly led: Patch;
  readonly sign: 1 | -1;
  readonly presses: readonly number[];
  /** Whether something brighter elsewhere switches at the same moments: of one light in several places that is the source. */
  readonly isImage: boolean;
}

type Edges = Omit<Candidate, 'isImage'>;

/** The patches that may be the LED, the most active first. */
export function ledCandidates(
  overview: Overview,
  patches: readonly Patch[],
  series: BlockContrasts,
): Candidate[] {
  return patches
    .flatMap((led) => candidatesOf(led, overview, series))
    .slice(0, 2 * LED_CANDIDATES)
    .map((own) => ({ ...own, isImage: patches.some((patch) => isImageOf(patch, own, overview)) }));
}

/** Whether a light switches with a patch that is brighter and elsewhere. */
function isImageOf(patch: Patch, { led, presses }: Edges, { frames, rateHz }: Overview): boolean {
  if (brightnessOf(patch) < BRIGHTER * brightnessOf(led)) return false;
  // At few frames a second a screen may answer in the next one.
  const reach = Math.round(SAME_LIGHT_S * rateHz);
  if (patch.events.length * (2 * reach + 1) > CROWDED * frames) return false;
  const together = presses.filter((p) => patch.events.some((e) => Math.abs(e.frame - p) <= reach));
  if (together.length < IMAGE_SHARE * presses.length) return false;
  const own = new Set(led.blocks);
  return !patch.blocks.some((b) => own.has(b));
}

/** The light that comes and goes with a patch, codes over its blocks. */
function brightnessOf({ strength, core }: Patch): number {
  return strength * core.length;
}

/** A patch that may be the LED, once for each of its edges that may be the press. */
function candidatesOf(patch: Patch, overview: Overview, series: BlockContrasts): Edges[] {
  const most = LED_LARGEST_SHARE * overview.columns * overview.rows;
  return ([1, -1] as const).flatMap((sign): Edges[] => {
    // A thumb that passes over a light makes one large patch with it.
    const led = patch.core.length <= most ? commonestPart(overview, patch, sign, series) : patch;
    if (led.core.length > most || (led.twoLevel < 0.7 && !goesOnAndOff(led))) return [];
    const changes = led.events.filter((e) => Math.sign(e.change) === sign).map((e) => e.frame);
    const presses = firstOfBursts(changes, LEAST_INTERVAL_S * overview.rateHz);
    return presses.length === 0 || presses.length < LEAST_FIRSTS * changes.length
      ? []
      : [{ led, sign, presses }];
  });
}

/**
 * Whether a patch goes on and off in turn by about the same amount, as a light does whose levels wander with the
 * camera's exposure or with a shadow.
 */
function goesOnAndOff({ events }: Patch): boolean {
  if (events.length < LEAST_SWITCHES) return false;
  const sizes = events.map((e) => Math.abs(e.change)).sort((a, b) => a - b);
  const usual = sizes[sizes.length >> 1]!;
  const inTurn = events.filter(({ change }, i) => {
    return i === 0 || Math.sign(change) !== Math.sign(events[i - 1]!.change);
  });
  const like = sizes.filter((size) => Math.abs(size - usual) < LIKE_USUAL * usual);
  return inTurn.length >= IN_TURN_SHARE * sizes.length && like.length >= LIKE_SHARE * sizes.length;
}

/** Without the changes that come sooner after the one before than a person presses: bounce, pulses of a dimmed light. */
function firstOfBursts(frames: readonly number[], leastFrames: number): number[] {
  return frames.filter((k, i) => i === 0 || k - frames[i - 1]! > leastFrames);
}

/** True where two patches change at the same moments: one light, seen twice. */
export function sameLight(a: Patch, b: Patch, rateHz: number): boolean {
  const reach = Math.max(1, SAME_LIGHT_S * rateHz);
  const [fewer, more] = a.events.length <= b.events.length ? [a, b] : [b, a];
  let hits = 0;
  for (const e of fewer.events) if (more.events.some((o) => Math.abs(o.frame - e.frame) <= reach)) hits++;
  return hits >= 0.6 * fewer.events.length;
}
