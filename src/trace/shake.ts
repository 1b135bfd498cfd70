/** How far the picture of a region moves while nothing in it happens: the hand, or a phone that is not at rest. */
import { invertSymmetric, timesVector } from '../numeric/solveSymmetric.js';
import type { RegionSamples } from '../samples/samples.js';

/** Translation x and y, gain, offset. */
const UNKNOWNS = 4;
const MOST_PAIRS = 500;
const LEAST_PAIRS = 60;
/** Frames belong together whose mean light is within this share of the region's range from the usual one. */
const SAME_STATE = 0.15;
/** A region whose details do not hold the picture to this (standard error of the result, px) says nothing. */
const LEAST_HOLD_PX = 0.25;
/**
 * Share of what lasts from frame to frame that displacement must explain. Errors of lossy coding last too, and move
 * nothing: they explain a few hundredths by chance, a hand nearly all.
 */
const LEAST_EXPLAINED = 0.25;
/** A movement smaller than this is told without such proof, px. */
const SMALL_PX = 0.3;
/** Cells at the region's edge have no slope. */
const LEAST_SIDE = 5;

/**
 * Displacement of a region's picture about its mean place, px, root mean square over frames, both directions together.
 * Each quiet frame is held against the mean picture by its slopes of light, with gain and offset free, so that neither
 * ripple nor exposure counts (B. D. Lucas, T. Kanade, 1981). A hand moves little from a frame to the next and noise
 * anew in each, so that the product of neighbouring frames' displacements is free of noise.
 * @param meanLight of the region, one value a frame.
 * @param quiet 1 for each frame in which nothing on the screen and at the LED changes.
 * @returns null where the region has too little detail, or too few quiet frames, to tell.
 */
export function shakeOf(region: RegionSamples, meanLight: Float64Array, quiet: Uint8Array): number | null {
  const { columns, rows } = region;
  if (columns < LEAST_SIDE || rows < LEAST_SIDE) return null;
  const pairs = pairsOfOneState(meanLight, quiet);
  if (pairs.length < LEAST_PAIRS) return null;
  const mean = meanPicture(region, pairs);
  const follow = follower(slopesOf(mean, columns, rows));
  if (!follow) return null;
  // Of what two neighbouring frames have in common beside gain and offset, what displacement explains, and what not.
  let moved = 0;
  let left = 0;
  const [one, other] = [follow.blank(), follow.blank()];
  const places = pairs.map((k) => {
    const place = follow(pictureOf(region, k), one);
    const next = follow(pictureOf(region, k + 1), other);
    for (let i = 0; i < one.moved.length; i++) {
      moved += one.moved[i]! * other.moved[i]!;
      left += one.left[i]! * other.left[i]!;
    }
    return [place, next] as const;
  });
  const middle = [0, 1].map((axis) => places.reduce((sum, [a]) => sum + a[axis]!, 0) / places.length);
  let both = 0;
  let own = 0;
  for (const [a, b] of places) {
    for (const axis of [0, 1]) {
      both += ((a[axis]! - middle[axis]!) * (b[axis]! - middle[axis]!)) / places.length;
      own += (a[axis]! - middle[axis]!) ** 2 / places.length;
    }
  }
  // What a pair of frames does not share is noise; its average over the pairs is what the result may be wrong by.
  const noise = Math.max(0, own - both) / Math.sqrt(places.length);
  if (Math.sqrt(noise) * region.cellPx > LEAST_HOLD_PX) return null;
  const shakePx = Math.sqrt(Math.max(0, both)) * region.cellPx;
  const explained = moved / (moved + Math.max(0, left));
  return shakePx < SMALL_PX || explained > LEAST_EXPLAINED ? shakePx : null;
}

/** First frames of neighbouring quiet frames, both of the state that the region is in most of the time. */
function pairsOfOneState(means: Float64Array, quiet: Uint8Array): number[] {
  const sorted = Float64Array.from(means.filter((_, k) => quiet[k] === 1)).sort();
  if (sorted.length === 0) return [];
  const at = (share: number) => sorted[Math.floor(share * (sorted.length - 1))]!;
  const usual = at(0.5);
  const reach = SAME_STATE * (at(0.98) - at(0.02)) + 1;
  const belongs = (k: number) => quiet[k] === 1 && Math.abs(means[k]! - usual) <= reach;
  const pairs: number[] = [];
  for (let k = 0; k + 1 < quiet.length; k++) if (belongs(k) && belongs(k + 1)) pairs.push(k);
  const stride = Math.max(1, Math.ceil(pairs.length / MOST_PAIRS));
  return pairs.filter((_, i) => i % stride === 0);
}

function pictureOf({ light, columns, rows }: RegionSamples, frame: number): Uint16Array {
  return light.subarray(frame * columns * rows, (frame + 1) * columns * rows);
}

function meanPicture(region: RegionSamples, pairs: readonly number[]): Float64Array {
  const mean = new Float64Array(region.columns * region.rows);
  for (const k of pairs) {
    const picture = pictureOf(region, k);
    for (let c = 0; c < mean.length; c++) mean[c]! += picture[c]! / pairs.length;
  }
  return mean;
}

/** The mean picture's inner cells: where each lies, and how its light changes with x, with y, with gain and with offset. */
interface Slopes {
  readonly at: Uint32Array;
  readonly by: readonly Float64Array[];
}

function slopesOf(mean: Float64Array, columns: number, rows: number): Slopes {
  const inner = Array.from(mean.keys()).filter((at) => {
    const x = at % columns;
    return x > 0 && x + 1 < columns && at >= columns && at + columns < columns * rows;
  });
  const each = (slope: (at: number) => number) => Float64Array.from(inner, slope);
  return {
    at: Uint32Array.from(inner),
    by: [
      each((at) => (mean[at + 1]! - mean[at - 1]!) / 2),
      each((at) => (mean[at + columns]! - mean[at - columns]!) / 2),
      each((at) => mean[at]!),
      each(() => 1),
    ],
  };
}

/** For each inner cell the light that a displacement brings about, and what nothing explains. */
interface Parts {
  readonly moved: Float64Array;
  readonly left: Float64Array;
}

interface Follow {
  /** Displacement (x, y) of a picture against the mean one, cells; writes its parts. */
  (picture: Uint16Array, parts: Parts): readonly [number, number];
  blank(): Parts;
}

/** Fits the mean picture, displaced, to others; null where the mean one has no hold. */
function follower({ at, by }: Slopes): Follow | null {
  const cells = at.length;
  const normal = by.flatMap((a) => by.map((b) => a.reduce((sum, v, i) => sum + v * b[i]!, 0)));
  if (by.some((_, i) => !(normal[i * UNKNOWNS + i]! > 0))) return null;
  const inverse = invertSymmetric(normal, UNKNOWNS);
  if (!inverse) return null;
  const [byX, byY, byGain] = by as [Float64Array, Float64Array, Float64Array];
  const follow = (picture: Uint16Array, { moved, left }: Parts): readonly [number, number] => {
    const right = by.map((slope) => {
      let sum = 0;
      for (let i = 0; i < cells; i++) sum += slope[i]! * picture[at[i]!]!;
      return sum;
    });
    const [x, y, gain, offset] = timesVector(inverse, right) as unknown as [number, number, number, number];
    for (let i = 0; i < cells; i++) {
      moved[i] = x * byX[i]! + y * byY[i]!;
      left[i] = picture[at[i]!]! - moved[i]! - gain * byGain[i]! - offset;
    }
    // Light that moves to the right falls where it rises to the right.
    return [-x, -y];
  };
  const blank = (): Parts => ({ moved: new Float64Array(cells), left: new Float64Array(cells) });
  return Object.assign(follow, { blank });
}
