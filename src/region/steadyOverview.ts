/** The hand's shake in a shrunken clip: how each frame lies against the first ones, and the frames put back in place. */
import { blockContrasts, type Overview } from './activity.js';
import { type Anchors, anchorsOf } from './handAnchors.js';
import { gainStep, solveStep } from './handStep.js';

/** Where each frame's picture went, in blocks, about the middle of the picture. */
export interface HandTrack {
  /** Translation, blocks; one a frame. */
  readonly xBlocks: Float32Array;
  readonly yBlocks: Float32Array;
  /** Turn (radians) and scale less 1. */
  readonly turn: Float32Array;
  readonly zoom: Float32Array;
  /** Encoded light of the still parts against the first frames: exposure steps, drift. */
  readonly gain: Float32Array;
  /** 1 for each frame that could not be followed: something large covers the picture. */
  readonly lost: Uint8Array;
  /** Mean translation, blocks: the middle of the shake as seen from the first frames. */
  readonly meanX: number;
  readonly meanY: number;
  /** Root mean square translation about its mean, blocks, and the largest displacement at the picture's middle. */
  readonly rmsBlocks: number;
  readonly largestBlocks: number;
  /** Largest change of gain, relative. */
  readonly largestGain: number;
}

const ROUNDS = 3;
/** Misfit over the usual one at which the picture counts as lost and is looked for all around, blocks. */
const LOST = 1.7;
/**
 * Misfit over the usual one at which a place is not believed, even one that a hand could have come to; once lost, a
 * picture is not believed to be found before it fits well again.
 */
const LOST_ALTOGETHER = 4;
const SEARCH = [-6, -4, -2, 0, 2, 4, 6].flatMap((y) => [-6, -4, -2, 0, 2, 4, 6].map((x) => [x, y] as const));
/** Of the places looked at around, so many are followed to where they fit best. */
const BEST_STARTS = 3;
/** A hand that films neither turns the phone by more than this from one press to another, rad, nor goes as much nearer. */
const MOST_TURN = 0.08;
/** Misfits below this displacement are noise, blocks. */
const LEAST_MISFIT = 0.1;
const LEAST_GAIN = 0.015;
const FASTEST_BLOCKS_PER_S = 120;
const LEAST_ANCHORS = 40;
/** Share of the anchors that are kept after a look over the clip. */
const STEADY_SHARE = 0.65;
// Below this much displacement (blocks) a frame is as good as in place.
const STILL_BLOCKS = 0.12;
/** Frames, spread over the clip, that tell a tripod from a hand. */
const SAMPLE_FRAMES = 32;
// A hand moves the picture by more than noise does: most frames then fit clearly better where they went than where they
// were. A picture without detail, or one that flashes, fits no better anywhere, and is left where it is.
const NO_BETTER = 1.5;
const NO_BETTER_BLOCKS = 0.05;
const STILL_SHARE = 0.75;
/** While the picture is lost, or seems never to move, it is looked for all around in every so many frames only. */
const LOOK_AROUND_EVERY = 4;

/**
 * Follows the picture's still parts by their slopes of light (B. D. Lucas, T. Kanade, 1981: one Gauss-Newton step a
 * round), with translation, turn, scale and gain; what flashes or moves by itself is left out by its misfit (Tukey).
 * @param active `blockContrasts` of the same overview: what changes by itself is nothing to hold on to.
 */
export function trackHand(overview: Overview, active = blockContrasts(overview)): HandTrack {
  const { frames } = overview;
  const anchors = steadiest(overview, anchorsOf(overview, active));
  const track = {
    xBlocks: new Float32Array(frames),
    yBlocks: new Float32Array(frames),
    turn: new Float32Array(frames),
    zoom: new Float32Array(frames),
    gain: new Float32Array(frames).fill(1),
    lost: new Uint8Array(frames),
  };
  if (anchors.x.length < LEAST_ANCHORS) return summarise(track);
  const follow = follower(overview, anchors);
  const { isStill, usual } = look(follow, frames);
  if (isStill) {
    for (let k = 0; k < frames; k++) track.gain[k] = follow(k, AT_REST, false).place[4]!;
    return summarise(track);
  }
  let p: readonly number[] = AT_REST;
  let before = p;
  let lostFor = 0;
  let wasLost = false;
  for (let k = 0; k < frames; k++) {
    // The hand goes on as it went.
    let found = follow(k, [2 * p[0]! - before[0]!, 2 * p[1]! - before[1]!, ...p.slice(2)], true);
    lostFor = found.misfit > LOST * usual ? lostFor + 1 : 0;
    if (lostFor % LOOK_AROUND_EVERY === 1) {
      // Around where it was in the first frames: a hand comes back.
      const around = SEARCH.map(([x, y]) => [x, y, 0, 0, p[4]!]);
      for (const start of [p, ...bestOf(around, (place) => follow.misfit(k, place))]) {
        const other = follow(k, start, true);
        // Far from the place before it must fit well: a picture that scrolls fits somewhat elsewhere.
        const near = Math.hypot(other.place[0]! - p[0]!, other.place[1]! - p[1]!) < 1;
        if (other.misfit < (near ? 1 : 0.6) * found.misfit) found = other;
        if (found.misfit < 1.3 * usual) break;
      }
    }
    const { place } = found;
    const jump = Math.hypot(place[0]! - p[0]!, place[1]! - p[1]!);
    // A frame that cannot be followed (something covers the picture) keeps the place of the one before.
    const tooFast = jump > FASTEST_BLOCKS_PER_S / overview.rateHz;
    const lost: boolean = found.misfit > (tooFast || wasLost ? LOST : LOST_ALTOGETHER) * usual;
    wasLost = lost;
    before = jump < 2 ? p : place;
    if (!lost) p = place;
    track.lost[k] = lost ? 1 : 0;
    track.xBlocks[k] = p[0]!;
    track.yBlocks[k] = p[1]!;
    track.turn[k] = p[2]!;
    track.zoom[k] = p[3]!;
    track.gain[k] = p[4]!;
  }
  return summarise(track);
}

/** Neither moved nor turned nor nearer, and as bright. */
const AT_REST = [0, 0, 0, 0, 1] as const;

type Places = Pick<HandTrack, 'xBlocks' | 'yBlocks' | 'turn' | 'zoom' | 'gain' | 'lost'>;

function summarise(track: Places): HandTrack {
  const frames = track.xBlocks.length;
  let sumX = 0;
  let sumY = 0;
  let squares = 0;
  let largestBlocks = 0;
  let largestGain = 0;
  for (let k = 0; k < frames; k++) {
    const x = track.xBlocks[k]!;
    const y = track.yBlocks[k]!;
    sumX += x / frames;
    sumY += y / frames;
    squares += (x * x + y * y) / frames;
    largestGain = Math.max(largestGain, Math.abs(track.gain[k]! - 1));
    largestBlocks = Math.max(largestBlocks, Math.hypot(x, y));
  }
  const rmsBlocks = Math.sqrt(Math.max(0, squares - sumX * sumX - sumY * sumY) / 2);
  return { ...track, meanX: sumX, meanY: sumY, rmsBlocks, largestBlocks, largestGain };
}

/**
 * Without the anchors that fit worst over the clip: they lie on something that moves by itself, such as a picture that
 * scrolls on the screen, which would otherwise be followed instead of the room.
 */
function steadiest(overview: Overview, anchors: Anchors): Anchors {
  if (anchors.x.length < 2 * LEAST_ANCHORS) return anchors;
  const follow = follower(overview, anchors);
  const unrest = new Float32Array(anchors.x.length);
  for (let i = 0; i < SAMPLE_FRAMES; i++) {
    const frame = Math.floor(((i + 0.5) * overview.frames) / SAMPLE_FRAMES);
    const { misfit } = follow(frame, AT_REST, true);
    const reach = 3 * Math.max(LEAST_MISFIT, misfit);
    follow.misfits.forEach((m, a) => {
      unrest[a]! += Math.min(1, Math.abs(m) / reach);
    });
  }
  const most = Float32Array.from(unrest).sort()[Math.floor(STEADY_SHARE * (unrest.length - 1))]!;
  const kept = Array.from(unrest.keys()).filter((a) => unrest[a]! <= most);
  const pick = (values: Float32Array) => Float32Array.from(kept, (a) => values[a]!);
  return {
    scale: pick(anchors.scale),
    x: pick(anchors.x),
    y: pick(anchors.y),
    value: pick(anchors.value),
    gradX: pick(anchors.gradX),
    gradY: pick(anchors.gradY),
  };
}

/** Whether the picture moves at all, and the usual misfit of a frame that is in its place, blocks. */
function look(follow: Follow, frames: number): { readonly isStill: boolean; readonly usual: number } {
  const sample = Array.from({ length: SAMPLE_FRAMES }, (_, i) =>
    Math.floor(((i + 0.5) * frames) / SAMPLE_FRAMES),
  );
  const near = lookAt(sample, follow, (frame, start) => follow(frame, start, true));
  if (!near.isStill) return near;
  const few = sample.filter((_, i) => i % LOOK_AROUND_EVERY === 0);
  const around = lookAt(few, follow, (frame, start) => wherever(follow, frame, start));
  return around.isStill ? near : around;
}

/** The same from some frames, and a way to find where one of them went. */
function lookAt(
  sample: readonly number[],
  follow: Follow,
  find: (frame: number, start: readonly number[]) => Found,
): { readonly isStill: boolean; readonly usual: number } {
  const misfits: number[] = [];
  let still = 0;
  for (const frame of sample) {
    const asItWas = follow(frame, AT_REST, false);
    const moved = find(frame, asItWas.place);
    misfits.push(moved.misfit);
    if (asItWas.misfit <= NO_BETTER * moved.misfit + NO_BETTER_BLOCKS) still++;
  }
  misfits.sort((a, b) => a - b);
  // Somebody may stand before the camera for half of the clip.
  const usual = Math.max(misfits[sample.length >> 2]!, 0.8 * LEAST_MISFIT);
  return { isStill: still >= STILL_SHARE * sample.length, usual };
}

/**
 * A frame without the one before it to go by: from a place to start at, or from around it. What is steep in a picture is
 * narrow, and a hand may have gone further than that by then, or have been far from its usual place in the first frames.
 */
function wherever(follow: Follow, frame: number, start: readonly number[]): Found {
  const near = follow(frame, start, true);
  const around = SEARCH.map(([x, y]) => [x, y, ...start.slice(2)]);
  let best = near;
  for (const place of bestOf(around, (p) => follow.misfit(frame, p))) {
    const found = follow(frame, place, true);
    if (found.misfit < best.misfit) best = found;
  }
  return best;
}

interface Found {
  /** Translation x and y, turn, scale, gain. */
  readonly place: readonly number[];
  /** Median misfit of the anchors, blocks of displacement. */
  readonly misfit: number;
}

interface Follow {
  /** Place of a frame, from a place to start at; with `moves` false only its exposure is looked for. */
  (frame: number, start: readonly number[], moves: boolean): Found;
  /** Median misfit of the anchors at a place. */
  misfit(frame: number, place: readonly number[]): number;
  /** Misfit of each anchor at the place that was looked at last; written again by each look. */
  readonly misfits: Float32Array;
}

function bestOf(
  places: readonly (readonly number[])[],
  misfit: (place: readonly number[]) => number,
): (readonly number[])[] {
  return places
    .map((place) => ({ place, misfit: misfit(place) }))
    .sort((a, b) => a.misfit - b.misfit)
    .slice(0, BEST_STARTS)
    .map((c) => c.place);
}

function follower({ columns, rows, luma }: Overview, anchors: Anchors): Follow {
  const count = anchors.x.length;
  const misfit = new Float32Array(count);
  const sorted = new Float32Array(count);
  const cx = (columns - 1) / 2;
  const cy = (rows - 1) / 2;
  const misfitAt = (frame: number, q: readonly number[]): number => {
    for (let i = 0; i < count; i++) {
      const dx = anchors.x[i]! - cx;
      const dy = anchors.y[i]! - cy;
      const x = anchors.x[i]! + q[0]! - q[2]! * dy + q[3]! * dx;
      const y = anchors.y[i]! + q[1]! + q[2]! * dx + q[3]! * dy;
      const value = sampleAt(luma, frame * columns * rows, columns, rows, x, y) * (anchors.scale[i]! / q[4]!);
      misfit[i] = value - anchors.value[i]!;
      sorted[i] = Math.abs(misfit[i]!);
    }
    sorted.sort();
    return sorted[count >> 1]!;
  };
  const follow = (frame: number, start: readonly number[], moves: boolean): Found => {
    let place = start;
    let size = misfitAt(frame, place);
    for (let round = 0; round < ROUNDS; round++) {
      const reach = 4.7 * Math.max(LEAST_MISFIT, 1.48 * size);
      const step = moves ? solveStep(anchors, misfit, reach, cx, cy) : gainStep(anchors, misfit, reach);
      if (!step) break;
      const next = place.map((v, j) => (j < 4 ? v - step[j]! : v * (1 + step[j]!)));
      if (Math.abs(next[2]!) > MOST_TURN || Math.abs(next[3]!) > MOST_TURN) break;
      if (!(next[4]! > 0.3 && next[4]! < 3)) break;
      place = next;
      size = misfitAt(frame, place);
      if (Math.abs(step[0]!) + Math.abs(step[1]!) < 0.01) break;
    }
    return { place, misfit: size };
  };
  return Object.assign(follow, { misfit: misfitAt, misfits: misfit });
}

function sampleAt(
  luma: Uint8Array,
  offset: number,
  columns: number,
  rows: number,
  x: number,
  y: number,
): number {
  const cx = Math.min(columns - 1.001, Math.max(0, x));
  const cy = Math.min(rows - 1.001, Math.max(0, y));
  const ix = Math.floor(cx);
  const iy = Math.floor(cy);
  const fx = cx - ix;
  const at = offset + iy * columns + ix;
  const upper = luma[at]! * (1 - fx) + luma[at + 1]! * fx;
  const lower = luma[at + columns]! * (1 - fx) + luma[at + columns + 1]! * fx;
  return upper + (lower - upper) * (cy - iy);
}

/**
 * The shrunken clip with every frame put back to where the first ones were, at their exposure; a frame that could not
 * be followed shows the one before it, so that no change is seen that the hand made. Overwrites `overview.luma`.
 */
export function steady(overview: Overview, track: HandTrack): void {
  const { columns, rows, frames, luma } = overview;
  const stride = columns * rows;
  const moved = new Uint8Array(stride);
  const reachBlocks = Math.hypot(columns, rows) / 2;
  const cx = (columns - 1) / 2;
  const cy = (rows - 1) / 2;
  for (let k = 0; k < frames; k++) {
    if (track.lost[k] === 1 && k > 0) {
      luma.copyWithin(k * stride, (k - 1) * stride, k * stride);
      continue;
    }
    const tx = track.xBlocks[k]!;
    const ty = track.yBlocks[k]!;
    const turn = track.turn[k]!;
    const zoom = track.zoom[k]!;
    const gain = track.gain[k]!;
    const still = Math.hypot(tx, ty) + reachBlocks * (Math.abs(turn) + Math.abs(zoom)) < STILL_BLOCKS;
    if (still && Math.abs(gain - 1) < LEAST_GAIN) continue;
    for (let y = 0; y < rows; y++) {
      for (let x = 0; x < columns; x++) {
        const fromX = x + tx - turn * (y - cy) + zoom * (x - cx);
        const fromY = y + ty + turn * (x - cx) + zoom * (y - cy);
        moved[y * columns + x] = Math.min(
          255,
          sampleAt(luma, k * stride, columns, rows, fromX, fromY) / gain + 0.5,
        );
      }
    }
    luma.set(moved, k * stride);
  }
}
