/** Patches of a shrunken clip whose light changes together, with the times of their changes. */
import { smallest } from '../numeric/smallest.js';
import {
  type BlockBox,
  type BlockContrasts,
  blockContrasts,
  contrastWindow,
  type Overview,
} from './activity.js';
import { coveredParts, groupsOf } from './blockGroups.js';

/** Neighbouring blocks that change together. */
export interface Patch {
  /** Block indices (row * columns + column). */
  readonly blocks: readonly number[];
  /** The blocks that change at least half as much as the one that changes most, without the glow around a light. */
  readonly core: readonly number[];
  /** Bounding box of the core. */
  readonly box: BlockBox;
  /** Contrast of the patch's changes at each frame, codes (rms over blocks, signed by the mean change). */
  readonly contrast: Float32Array;
  /** Frames at which it changes, with the mean change of light (codes; sign says brighter or darker). */
  readonly events: readonly { readonly frame: number; readonly change: number; readonly size: number }[];
  /** Mean absolute size of the larger changes, codes. */
  readonly strength: number;
  /** Share of frames in which the patch's mean sits near one of two levels. */
  readonly twoLevel: number;
  /** Level that the patch spends most time near: true where that is the darker one. */
  readonly restsDark: boolean;
}

/** Blocks that change at least this share of what the strongest does are the core of a patch. */
export const CORE_SHARE = 0.5;
/** How much oftener a part of a patch must change than the patch as a whole to be something else. */
const OFTENER = 1.3;
/** As long before and after its largest changes something that slides over a place may still change it. */
const SLIDE_S = 0.08;

/**
 * Finds the patches of a clip, largest activity first.
 * @param series `blockContrasts` of the same overview.
 */
export function findPatches(overview: Overview, series = blockContrasts(overview)): Patch[] {
  return groupsOf(series, overview.columns)
    .flatMap((group) => withCoveredParts(describePatch(overview, group, series), overview, series))
    .filter((patch) => patch.events.length > 0)
    .sort((a, b) => b.strength * Math.sqrt(b.blocks.length) - a.strength * Math.sqrt(a.blocks.length));
}

/** A patch with the lights that it covers now and then. */
function withCoveredParts(whole: Patch, overview: Overview, series: BlockContrasts): Patch[] {
  const frames = whole.events.map((e) => e.frame);
  const reach = Math.ceil(SLIDE_S * overview.rateHz);
  // What is seen of a light while it is being covered is the cover, and may be stronger than the light.
  const { parts, besides } = coveredParts(whole.blocks, frames, reach, series, overview);
  const lights = parts
    .map((blocks) => describePatch(overview, blocks, besides))
    // What covers a light comes and goes less often than the light.
    .filter((light) => light.events.length > OFTENER * frames.length);
  return [whole, ...lights];
}

function describePatch(overview: Overview, group: readonly number[], series: BlockContrasts): Patch {
  return describeCore(overview, group, coreOf(group, series), series);
}

/** A patch of `group` as the blocks of `core` show it. */
export function describeCore(
  overview: Overview,
  group: readonly number[],
  core: readonly number[],
  series: BlockContrasts,
): Patch {
  const { columns, frames, rows, luma } = overview;
  const m = contrastWindow(overview.rateHz);
  const contrast = new Float32Array(frames);
  const mean = new Float32Array(frames);
  const box = { x0: columns, y0: rows, x1: 0, y1: 0 };
  for (const b of core) {
    const x = b % columns;
    const y = Math.floor(b / columns);
    box.x0 = Math.min(box.x0, x);
    box.y0 = Math.min(box.y0, y);
    box.x1 = Math.max(box.x1, x + 1);
    box.y1 = Math.max(box.y1, y + 1);
    const own = series.get(b)!;
    for (let k = 0; k < frames; k++) contrast[k]! += own[k]! * own[k]!;
  }
  // Frame after frame, as they lie in memory.
  const size = core.length;
  const places = Uint32Array.from(core);
  for (let k = 0, at = 0; k < frames; k++, at += columns * rows) {
    let sum = 0;
    for (let i = 0; i < size; i++) sum = Math.fround(sum + luma[at + places[i]!]! / size);
    mean[k] = sum;
  }
  for (let k = 0; k < frames; k++) contrast[k] = Math.sqrt(contrast[k]! / core.length);
  const events = peaks(contrast, m).map((frame) => ({
    frame,
    change: windowMean(mean, frame, frame + m) - windowMean(mean, frame - m, frame),
    size: contrast[frame]!,
  }));
  const strength = events.reduce((sum, e) => sum + e.size, 0) / Math.max(1, events.length);
  return { blocks: group, core, box, contrast, events, strength, ...levelsOf(smoothed(mean, m)) };
}

/** The blocks of a patch whose strongest changes are at least half of the patch's strongest. */
function coreOf(group: readonly number[], series: BlockContrasts): number[] {
  const sizes = new Float32Array(series.get(group[0]!)!.length);
  const strengths = group.map((b) => {
    const own = series.get(b)!;
    for (let k = 0; k < sizes.length; k++) sizes[k] = Math.abs(own[k]!);
    return smallest(sizes, Math.floor(0.99 * (sizes.length - 1)));
  });
  const most = strengths.reduce((a, b) => Math.max(a, b), 0);
  return group.filter((_, i) => strengths[i]! >= CORE_SHARE * most);
}

function windowMean(values: Float32Array, from: number, to: number): number {
  let sum = 0;
  const first = Math.max(0, from);
  const last = Math.min(values.length, to);
  for (let k = first; k < last; k++) sum += values[k]!;
  return sum / Math.max(1, last - first);
}

/** Local maxima that stand out of the curve's own middle and reach a third of its largest. */
function peaks(curve: Float32Array, m: number): number[] {
  const sorted = Float32Array.from(curve).sort();
  const top = sorted[Math.floor(0.998 * (sorted.length - 1))]!;
  const median = sorted[sorted.length >> 1]!;
  const threshold = Math.max(0.35 * top, 4 * median);
  const found: number[] = [];
  for (let k = 1; k < curve.length - 1; k++) {
    if (curve[k]! < threshold) continue;
    let isPeak = true;
    for (let d = 1; d <= m && isPeak; d++) {
      if ((curve[k - d] ?? 0) > curve[k]! || (curve[k + d] ?? 0) >= curve[k]!) isPeak = false;
    }
    if (isPeak) found.push(k);
  }
  return found;
}

/** Running mean of `m` values, so that noise does not hide two levels. */
function smoothed(values: Float32Array, m: number): Float32Array {
  const out = new Float32Array(values.length);
  let sum = 0;
  for (let k = 0; k < values.length; k++) {
    sum += values[k]!;
    if (k >= m) sum -= values[k - m]!;
    out[k] = sum / Math.min(k + 1, m);
  }
  return out;
}

function levelsOf(mean: Float32Array): { twoLevel: number; restsDark: boolean } {
  const sorted = Float32Array.from(mean).sort();
  const low = sorted[Math.floor(0.03 * sorted.length)]!;
  const high = sorted[Math.floor(0.97 * sorted.length)]!;
  const span = Math.max(1e-6, high - low);
  let near = 0;
  let dark = 0;
  for (const v of mean) {
    const share = (v - low) / span;
    if (share < 0.2 || share > 0.8) near++;
    if (share < 0.5) dark++;
  }
  return { twoLevel: near / mean.length, restsDark: dark > mean.length / 2 };
}
