/**
 * Which frames of a clip are captures of their own: repeated and blended pictures give themselves away, because
 * nothing in them changes (or they lie half-way between their neighbours) at a fixed beat, whatever else goes on.
 *
 * A picture that stands still is no proof: a display at 60 Hz changes only every fourth camera frame at 240 fps, and
 * strong compression takes the sensor's noise away. So a verdict needs something that changes in its own time (the
 * LED, a part of the room) and no region that contradicts it; where that is missing, the frames count as genuine.
 */

import { everyStepAnew, type Remember } from '../remember.js';

/** One region's light over the clip; `RegionSamples` is one. */
export interface PatchSeries {
  /** `frames * rows * columns`, frame after frame; linear light, white is 50 000. */
  readonly light: Uint16Array;
  readonly columns: number;
  readonly rows: number;
  /** Side of a cell, px; averaging over it makes the noise smaller. */
  readonly cellPx: number;
  /** A `screen` changes at its display's refreshes only; anything else changes in its own time. */
  readonly region: { readonly role: string };
}

/** What the pictures say. */
export interface PictureVerdict {
  /** `maybe-blends`: the noise beats as blended pictures' would, but no edge proves it. */
  readonly kind: 'genuine' | 'copies' | 'blends' | 'maybe-blends';
  /** 1 where a frame is no capture of its own; one a frame. */
  readonly made: Uint8Array;
  readonly madeFrames: number;
  /** Frames of the file for each true capture: 2 where every picture is there twice; 1 where copies are rare. */
  readonly every: number;
}

/** Light of white; only thresholds on noise depend on it. */
const WHITE = 50_000;
const CODES = 219;
/** Cells that are looked at in each region. */
const MAX_CELLS = 256;
/** Change of a noisy picture from frame to frame, codes of 8 bit; less says that compression ate the noise. */
const NOISY_CODES = 0.5;
/** A copy changes by less than this share of the usual change (containers are coded with loss). */
const COPY_BELOW = 0.25;
const BETWEEN_BELOW = 0.6;
/** Edges of a thing with its own time that must all fall on one beat; 12 by chance: 1 in 2000 for every second. */
const LEAST_EDGES = 12;
const ON_BEAT = 0.92;
const BEATS = [8, 6, 5, 4, 3, 2] as const;
/** Fewer copies than this leave the capture rate as it is. */
const RARE_RATIO = 1.3;
/** Noise of captured against blended pictures (blending two halves the variance). */
const BLEND_NOISE_RATIO = 1.6;

let codeTable: Float32Array | undefined;

/**
 * Close to the codes: blends are made of codes, and noise in codes is about even over the brightness. One a stored light;
 * made when first asked for, since most commands never are.
 */
function codesOfLight(): Float32Array {
  codeTable ??= Float32Array.from({ length: 65_536 }, (_, light) => CODES * Math.sqrt(light / WHITE));
  return codeTable;
}

interface PatchChange {
  readonly ownTime: boolean;
  /** Mean change from the frame before, over all cells. */
  readonly change: Float64Array;
  /** Mean distance from the middle of both neighbours, over all cells. */
  readonly bend: Float64Array;
  /** The same two over the quieter half of the cells, common brightness taken out: the noise, codes of 8 bit. */
  readonly noise: Float64Array;
  readonly noiseBend: Float64Array;
}

/**
 * Judges the pictures of a clip.
 * @param frames number of frames.
 * @param remember may know what a patch shows already.
 * @param reordered true where the codec may make pictures from later ones (B-frames): then blends cannot be told.
 */
export function judgePictures(
  patches: readonly PatchSeries[],
  frames: number,
  reordered: boolean,
  remember: Remember = everyStepAnew,
): PictureVerdict {
  const genuine = { kind: 'genuine', made: new Uint8Array(frames), madeFrames: 0, every: 1 } as const;
  if (frames < 32) return genuine;
  const changes = patches.map((patch) =>
    remember('changes of a patch', [patch.light, patch.region.role], () => changesOf(patch, frames)),
  );
  const copies = copiesByNoise(changes, frames) ?? onBeat(changes, frames, (c) => c.change, 0.8);
  if (copies !== null) return verdict('copies', copies);
  if (reordered) return genuine;
  const blends = onBeat(changes, frames, (c) => c.bend, 0.6);
  if (blends !== null) return verdict('blends', blends);
  const noisy = changes.filter((c) => quantile(c.noiseBend, 0.75) >= NOISY_CODES);
  const beats = noisy.length >= 2 && noisy.some((c) => c.ownTime) && noisy.every((c) => blendedNoise(c));
  return beats ? { ...genuine, kind: 'maybe-blends' } : genuine;
}

function verdict(kind: 'copies' | 'blends', made: Uint8Array): PictureVerdict {
  const ratio = ratioOf(made);
  const whole = Math.round(ratio);
  const every = ratio < RARE_RATIO ? 1 : Math.abs(ratio / whole - 1) < 0.05 ? whole : ratio;
  return { kind, made, madeFrames: countOf(made), every };
}

function countOf(made: Uint8Array): number {
  return made.reduce((sum, one) => sum + one, 0);
}

/** Frames of the file for each capture. */
function ratioOf(made: Uint8Array): number {
  return made.length / (made.length - countOf(made));
}

function changesOf(patch: PatchSeries, frames: number): PatchChange {
  const { light, cellPx } = patch;
  const cells = patch.columns * patch.rows;
  const stride = Math.max(1, Math.ceil(cells / MAX_CELLS));
  const used = Math.ceil(cells / stride);
  const codeOf = codesOfLight();
  const restless = new Float64Array(used);
  const change = new Float64Array(frames);
  const bend = new Float64Array(frames);
  const codesAt = (k: number, codes: Float32Array<ArrayBuffer>) => {
    for (let c = 0, at = k * cells; c < used; c++, at += stride) codes[c] = codeOf[light[at]!]!;
    return codes;
  };
  let before = codesAt(0, new Float32Array(used));
  let here = codesAt(1, new Float32Array(used));
  let after = new Float32Array(used);
  for (let k = 1; k < frames; k++) {
    const hasNext = k < frames - 1;
    if (hasNext) codesAt(k + 1, after);
    let changed = 0;
    let bent = 0;
    for (let c = 0; c < used; c++) {
      const step = Math.abs(here[c]! - before[c]!);
      changed += step / used;
      restless[c]! += step;
      if (hasNext) bent += Math.abs(here[c]! - (before[c]! + after[c]!) / 2) / used;
    }
    change[k] = changed;
    bend[k] = bent;
    [before, here, after] = [here, after, before];
  }
  const limit = quantile(restless, 0.5);
  const quiet = Uint32Array.from(
    Array.from({ length: used }, (_, c) => c).filter((c) => restless[c]! <= limit),
    (c) => c * stride,
  );
  const level = new Float64Array(frames);
  for (let k = 0; k < frames; k++) {
    const from = k * cells;
    let sum = 0;
    for (let i = 0; i < quiet.length; i++) sum += codeOf[light[from + quiet[i]!]!]! / quiet.length;
    level[k] = sum;
  }
  const noise = new Float64Array(frames);
  const noiseBend = new Float64Array(frames);
  const scale = cellPx / quiet.length;
  for (let k = 1; k < frames; k++) {
    const from = k * cells;
    const hasNext = k < frames - 1;
    let changed = 0;
    let bent = 0;
    for (let i = 0; i < quiet.length; i++) {
      const at = from + quiet[i]!;
      const here = codeOf[light[at]!]! - level[k]!;
      const before = codeOf[light[at - cells]!]! - level[k - 1]!;
      changed += Math.abs(here - before) * scale;
      if (hasNext) {
        const after = codeOf[light[at + cells]!]! - level[k + 1]!;
        bent += Math.abs(here - (before + after) / 2) * scale;
      }
    }
    noise[k] = changed;
    noiseBend[k] = bent;
  }
  return { ownTime: patch.region.role !== 'screen', change, bend, noise, noiseBend };
}

/** Frames in which the noise of every noisy region stands still; null where there are none or it cannot be told. */
function copiesByNoise(changes: readonly PatchChange[], frames: number): Uint8Array | null {
  const telling = changes.filter((c) => {
    const usual = quantile(c.noise, 0.9);
    if (usual < NOISY_CODES) return false;
    let still = 0;
    let between = 0;
    for (const value of c.noise.subarray(1)) {
      if (value < COPY_BELOW * usual) still++;
      else if (value < BETWEEN_BELOW * usual) between++;
    }
    // Where hardly changing frames shade into changing ones, compression is at work.
    return between <= 0.5 * still + 2;
  });
  if (telling.length < 2 || !telling.some((c) => c.ownTime)) return null;
  const usual = telling.map((c) => quantile(c.noise, 0.9));
  const made = new Uint8Array(frames);
  for (let k = 1; k < frames; k++) {
    made[k] = telling.every((c, i) => c.noise[k]! < COPY_BELOW * usual[i]!) ? 1 : 0;
  }
  return made.includes(1) && isCadence(made) ? made : null;
}

/**
 * Whether copies come as a camera or a converter makes them: now and then, or by a beat. A codec that spends no bits
 * on the noise of some frames leaves pictures as still as copies, in a third of all frames and without any order.
 */
function isCadence(made: Uint8Array): boolean {
  if (ratioOf(made) < RARE_RATIO) return true;
  const captures = made.map((one) => 1 - one);
  return BEATS.some((beat) =>
    [made, captures].some((series) => Math.max(...shareOfPhases(series, beat)) >= ON_BEAT),
  );
}

/** Frames off the one beat on which all changes fall; null where there is no such beat. */
function onBeat(
  changes: readonly PatchChange[],
  frames: number,
  seriesOf: (change: PatchChange) => Float64Array,
  otherShare: number,
): Uint8Array | null {
  const events = changes.map((c) => ({ ownTime: c.ownTime, ...eventsOf(seriesOf(c)) }));
  const own = events.filter((e) => e.ownTime && e.edges >= LEAST_EDGES);
  if (own.length === 0) return null;
  for (const beat of BEATS) {
    const shares = shareOfPhases(own[0]!.excess, beat);
    const phase = shares.indexOf(Math.max(...shares));
    const agrees = events.every(
      (e) =>
        e.edges < 3 ||
        shareOfPhases(e.excess, beat)[phase]! >= (e.ownTime && e.edges >= LEAST_EDGES ? ON_BEAT : otherShare),
    );
    if (agrees) return Uint8Array.from({ length: frames }, (_, k) => (k % beat === phase ? 0 : 1));
  }
  return null;
}

/** What stands out of a series, and how many separate times it does. */
function eventsOf(series: Float64Array): { readonly excess: Float64Array; readonly edges: number } {
  const highest = series.reduce((a, b) => Math.max(a, b), 0);
  const limit = Math.max(4 * quantile(series, 0.5), 0.1 * highest, 0.5);
  let edges = 0;
  let last = -10;
  const excess = series.map((value, k) => {
    if (value <= limit) return 0;
    if (k - last > 8) edges++;
    last = k;
    return value;
  });
  return { excess, edges };
}

function shareOfPhases(excess: ArrayLike<number>, beat: number): number[] {
  const sums = new Array<number>(beat).fill(0);
  let total = 0;
  for (let k = 0; k < excess.length; k++) {
    sums[k % beat]! += excess[k]!;
    total += excess[k]!;
  }
  return sums.map((sum) => (total > 0 ? sum / total : 0));
}

function blendedNoise(c: PatchChange): boolean {
  const of = (parity: number) =>
    quantile(
      c.noiseBend.filter((_, k) => k > 0 && k % 2 === parity),
      0.5,
    );
  const pair = [of(0), of(1)].sort((a, b) => a - b);
  return pair[1]! > BLEND_NOISE_RATIO * pair[0]!;
}

function quantile(values: Float64Array, share: number): number {
  const sorted = values.slice().sort();
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? 0;
}
