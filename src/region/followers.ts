/** What in the picture follows a light: blocks whose light changes after its switching, and not before it. */
import type { Overview } from './activity.js';
import { type StepMean, stepsOf } from './evenSteps.js';
import {
  type BlockAnswers,
  type FollowingBlocks,
  followingParts,
  follows,
  LEAST_CODES,
  type Part,
} from './followingPart.js';
import type { PooledOverview } from './pooledOverview.js';
import { forEachBlock, type SteppedClip, steppedClip } from './steppedClip.js';

/** What follows one candidate. */
export interface Following {
  /** Blocks of a part that follows; empty where nothing does. */
  readonly blocks: FollowingBlocks;
  /** Sum over those blocks of the change after a press less that before it, codes, each up to a limit. */
  readonly weight: number;
  /** Presses whose change stands out of the time before them. */
  readonly followed: number;
  /** Presses that could be judged. */
  readonly presses: number;
  /** Median time from press to change, and half the range of its middle 70 %, s. */
  readonly lagS: number;
  readonly spreadS: number;
  /** Median quiet time of the following part before a press, s. */
  readonly quietS: number;
  /** Natural logarithm of a bound on the chance that something which changes as often is so well in time by itself. */
  readonly logChance: number;
}

const WINDOW_STEPS = 24;
/** Quiet time that is asked for before a press: shorter, because the answer before may fall back late. */
const QUIET_STEPS = 14;
/** Later windows for slow chains; a response is looked for up to half a second after the press. */
const WINDOW_STARTS = [0, 18, 36] as const;
const LONGEST_STEPS = WINDOW_STARTS[WINDOW_STARTS.length - 1]! + WINDOW_STEPS;
const QUIET_LIMIT_STEPS = 60;
/** Presses at which a block must change, where there are that many. */
const LEAST_ANSWERS = 2;
/** Share of a block's answers that come within so many steps of its usual time: what passes by comes at any time. */
const IN_TIME_SHARE = 0.5;
const IN_TIME_STEPS = 3;
/** How far from the common time an answer may come, where chance is judged, steps; each is tried. */
const IN_TIME_TRIED = [1, 2, 4];
const NO_PART: Part = { blocks: new Map(), weight: 0 };

/**
 * For each of several lights the parts of the picture that follow it, the strongest first, and at least one.
 * @param pressFrames for each light the camera frames at which it switches.
 * @param wantsMore whether of a light more than the strongest part is wanted, by what that part does: each takes time.
 */
export function findFollowers(
  overview: Overview | PooledOverview,
  pressFrames: readonly (readonly number[])[],
  wantsMore: (light: number, strongest: Following) => boolean,
): Following[][] {
  const blocks = overview.columns * overview.rows;
  const clip = steppedClip(overview);
  const { stepFrames, steps, mean } = clip;
  const spill = spillSteps(mean);
  const presses = pressFrames.map((list) =>
    list.map((f) => Math.round(f / stepFrames)).filter((s) => s >= 4 && s + WINDOW_STEPS + 4 < steps),
  );
  const scores = presses.map(
    (): BlockAnswers => ({
      after: new Float32Array(blocks),
      before: new Float32Array(blocks),
      lag: new Float32Array(blocks),
    }),
  );
  const ahead = new Float32Array(steps);
  const quiet = new Float32Array(steps);
  forEachBlock(
    clip,
    () => true,
    (b, sizes) => {
      // Most of a picture never changes at all.
      if (largest(sizes, 0, steps) < LEAST_CODES) return;
      runningLargest(sizes, quiet, QUIET_STEPS);
      // The largest of the longer window from two shorter ones that overlap.
      largerOfTwo(quiet, ahead, WINDOW_STEPS - QUIET_STEPS);
      presses.forEach((list, i) => {
        scoreBlock(sizes, ahead, quiet, list, spill, scores[i]!, b);
      });
    },
  );
  const parts = scores.map((score) => followingParts(overview, score, LONGEST_STEPS));
  const strongest = describeAll(
    clip,
    parts.map(([part = NO_PART], light) => ({ light, part })),
    presses,
  );
  const others = parts.flatMap((own, light) => {
    const isWanted = own.length > 1 && wantsMore(light, strongest[light]!);
    return isWanted ? own.slice(1).map((part) => ({ light, part })) : [];
  });
  const more = describeAll(clip, others, presses);
  return strongest.map((first, light) => [first, ...more.filter((_, i) => others[i]!.light === light)]);
}

/** What parts do that may follow a light. */
function describeAll(
  clip: SteppedClip,
  parts: readonly { readonly light: number; readonly part: Part }[],
  presses: readonly (readonly number[])[],
): Following[] {
  if (parts.length === 0) return [];
  const wholes = sizesOfParts(
    clip,
    parts.map(({ part }) => part),
  );
  return parts.map(({ light, part }, i) => describe(clip, presses[light]!, part, wholes[i]!));
}

/** For each part the mean of its blocks' changes at each step. A block of many parts is worked out once. */
function sizesOfParts(clip: SteppedClip, parts: readonly Part[]): Float32Array[] {
  const wholes = parts.map(() => new Float32Array(clip.steps));
  forEachBlock(
    clip,
    (b) => parts.some(({ blocks }) => blocks.has(b)),
    (b, sizes) => {
      parts.forEach(({ blocks }, i) => {
        if (!blocks.has(b)) return;
        const whole = wholes[i]!;
        const { size } = blocks;
        for (let s = 0; s < whole.length; s++) whole[s]! += sizes[s]! / size;
      });
    },
  );
  return wholes;
}

/** By so many steps more than with the usual mean does a change show before it comes. */
function spillSteps(mean: StepMean): number {
  return (stepsOf(mean) - stepsOf('usual')) >> 1;
}

function largest(sizes: Float32Array, from: number, to: number): number {
  let most = 0;
  const last = Math.min(sizes.length, to);
  for (let s = Math.max(0, from); s < last; s++) if (sizes[s]! > most) most = sizes[s]!;
  return most;
}

const median = (values: number[]): number => {
  values.sort((a, b) => a - b);
  return values[values.length >> 1] ?? 0;
};

/** The largest of `width` values from each step on. */
function runningLargest(sizes: Float32Array, out: Float32Array, width: number): void {
  out.set(sizes);
  for (let reach = 1; reach < width; ) {
    const by = Math.min(reach, width - reach);
    largerOfTwo(out, out, by);
    reach += by;
  }
}

/** At each step the larger of the value there and the one `by` steps later; `out` may be `values` itself. */
function largerOfTwo(values: Float32Array, out: Float32Array, by: number): void {
  const last = values.length - by;
  for (let s = 0; s < last; s++) out[s] = Math.max(values[s]!, values[s + by]!);
  if (out !== values) out.set(values.subarray(last), last);
}

const sorted = new Float32Array(256);

/**
 * Upper quartile of `values[p + offset]` over the presses; 0 outside the clip. Up to 256 presses, evenly chosen. Not the
 * median, because an item of a menu changes at some of the presses only.
 */
function quartileAt(values: Float32Array, presses: readonly number[], offset: number): number {
  const stride = Math.ceil(presses.length / sorted.length);
  let n = 0;
  for (let i = 0; i < presses.length; i += stride) {
    const value = values[Math.max(0, presses[i]! + offset)] ?? 0;
    let at = n++;
    for (; at > 0 && sorted[at - 1]! > value; at--) sorted[at] = sorted[at - 1]!;
    sorted[at] = value;
  }
  return sorted[Math.max(0, Math.min((3 * n) >> 2, n - LEAST_ANSWERS))]!;
}

function scoreBlock(
  sizes: Float32Array,
  ahead: Float32Array,
  quiet: Float32Array,
  presses: readonly number[],
  spill: number,
  score: BlockAnswers,
  block: number,
): void {
  if (presses.length === 0) return;
  score.before[block] = quartileAt(quiet, presses, -2 - QUIET_STEPS - spill);
  let from = 0;
  let most = 0;
  for (const start of WINDOW_STARTS) {
    const after = quartileAt(ahead, presses, start);
    if (after <= 1.15 * most) continue;
    most = after;
    from = start;
  }
  score.after[block] = most;
  if (!follows(most, score.before[block]!)) return;
  const lags: number[] = [];
  for (const p of presses) {
    const until = p + from + WINDOW_STEPS;
    const at = firstStrong(sizes, p - 2, until, most, spill);
    if (at < until) lags.push(at - p);
  }
  const lag = median(lags);
  // Without the one that is the median itself.
  const inTime = lags.reduce((n, l) => (Math.abs(l - lag) <= IN_TIME_STEPS ? n + 1 : n), -1);
  score.lag[block] = inTime >= IN_TIME_SHARE * (lags.length - 1) ? lag : 0;
}

/**
 * First local maximum that reaches 0.6 of `size`. A longer mean makes a change as much broader, and noise makes small
 * maxima of its flanks: none within `spill` more steps may be larger.
 */
function firstStrong(sizes: Float32Array, from: number, to: number, size: number, spill: number): number {
  const reach = 1 + spill;
  for (let s = Math.max(1, from); s < to && s + 1 < sizes.length; s++) {
    if (sizes[s]! < 0.6 * size || sizes[s]! < sizes[s + 1]! || sizes[s]! < sizes[s - 1]!) continue;
    if (spill === 0 || sizes[s]! >= largest(sizes, s - reach, s + reach + 1)) return s;
  }
  return to;
}

/** @param whole change of `part` at each step. */
function describe(
  { overview, stepFrames, steps, mean }: SteppedClip,
  presses: readonly number[],
  { blocks, weight }: Part,
  whole: Float32Array,
): Following {
  const nothing = {
    blocks,
    weight,
    followed: 0,
    presses: presses.length,
    lagS: 0,
    spreadS: 0,
    quietS: 0,
    logChance: 0,
  };
  if (blocks.size === 0) return nothing;
  const reach = LONGEST_STEPS;
  const spill = spillSteps(mean);
  const peaks = presses.map((p) => largest(whole, p + 1, p + reach));
  const typical = median([...peaks]);
  const lags: number[] = [];
  const quiets: number[] = [];
  presses.forEach((p, i) => {
    const last = p - 2 - spill;
    let quiet = 0;
    while (quiet < QUIET_LIMIT_STEPS && last - quiet > 0 && whole[last - quiet]! < 0.5 * typical) quiet++;
    quiets.push(quiet);
    const until = Math.min(p + reach, presses[i + 1] ?? steps);
    const lag = firstStrong(whole, p + 1, until, typical, spill);
    if (lag < until) lags.push(lag - p);
  });
  lags.sort((a, b) => a - b);
  const at = (share: number) => lags[Math.floor(share * (lags.length - 1))] ?? 0;
  const stepS = stepFrames / overview.rateHz;
  return {
    ...nothing,
    followed: lags.length,
    lagS: at(0.5) * stepS,
    spreadS: 0.5 * (at(0.85) - at(0.15)) * stepS,
    quietS: median(quiets) * stepS,
    logChance: logChanceOf(whole, typical, spill, presses.length, lags),
  };
}

/**
 * Bound on the logarithm of the chance that changes which come at random, as often as those of `whole`, follow as many
 * presses at a common time (W. Hoeffding, 1963, theorem 1: the tail of a binomial distribution).
 */
function logChanceOf(
  whole: Float32Array,
  typical: number,
  spill: number,
  presses: number,
  lags: readonly number[],
): number {
  let changes = 0;
  for (let s = 1; s + 1 < whole.length; s = firstStrong(whole, s + 1, whole.length, typical, spill))
    changes++;
  const usual = lags[lags.length >> 1] ?? 0;
  // The common time is the clip's own choice, so that one press says nothing.
  const others = presses - 1;
  let least = 0;
  for (const within of IN_TIME_TRIED) {
    const share = (lags.filter((l) => Math.abs(l - usual) <= within).length - 1) / others;
    const byChance = 1 - Math.exp((-changes * (2 * within + 1)) / whole.length);
    if (!(share > byChance)) continue;
    const late = share < 1 ? (1 - share) * Math.log((1 - share) / (1 - byChance)) : 0;
    least = Math.min(least, -others * (share * Math.log(share / byChance) + late));
  }
  return Math.min(0, least + Math.log(IN_TIME_TRIED.length));
}
