/** Clips that the desk has open: what was read of them once, and what was measured last. Bounded in number and bytes. */

import { type FrameSource, uprightSize } from '../../clip/frameSource.js';
import { readFrameTicks } from '../../clip/frameTicks.js';
import { openClip } from '../../clip/openClip.js';
import { picturesFrom } from '../../clip/picturesFrom.js';
import { type ClipOnsets, findClipOnsets, onsetsKey } from '../../clipOnsets.js';
import { type Measurement, type MeasureOptions, measureClip } from '../../measure.js';
import type { Recipe } from '../../record/recipe.js';
import { jpegPicture } from '../../report/pictures/jpegPicture.js';
import type { sampleClip } from '../../samples/sampleClip.js';
import { type FrameReel, frameReel } from '../../viewing/frameReel.js';
import type { DeskFile } from './deskFolder.js';
import { Refusal } from './refusal.js';

type Sample = typeof sampleClip;

/** A clip that is open. */
export interface OpenClip {
  readonly file: DeskFile;
  readonly source: FrameSource;
  /** Presentation times of all frames, ticks. */
  ticks(): Promise<Float64Array>;
  /** The JPEG of a frame, its longest side at most `maxPx`. */
  frame(index: number, maxPx: number): Promise<Uint8Array>;
  thumbnail(): Promise<Uint8Array>;
  /** Measures; samples and onsets that are known need not be made again. */
  measure(recipe: Recipe, options?: MeasureOptions): Promise<Measurement>;
  /** How to come to samples and onsets, for `measureFile`. */
  readonly ways: Required<Pick<MeasureOptions, 'sample' | 'findOnsets'>>;
  /** Remembers a measurement that was made elsewhere by `ways`. */
  remember(recipe: Recipe, measurement: Measurement): void;
  /** As `measure`, but a Refusal 404 where something would have to be decoded. */
  measured(recipe: Recipe): Promise<Measurement>;
}

/** All open clips. */
export interface OpenClips {
  open(file: DeskFile): Promise<OpenClip>;
  close(): Promise<void>;
}

/** Facts of so many clips are kept; a folder has rarely more. */
const CLIPS = 200;
/** FFmpegs that may stand by for stepping. */
const REELS = 2;
const REEL_BYTES = 32 * 1024 * 1024;
const THUMBNAIL_PX = 320;
const THUMBNAIL_AT = 0.4;
/** Thumbnails that are made at a time. */
const PAINTERS = 2;

/** Opens clips. `sample` comes to samples, for example through a cache on disk. */
export function openClips(sample: Sample, signal: AbortSignal): OpenClips {
  const clips = new Map<string, { readonly state: string; readonly clip: Promise<OpenClip> }>();
  const reels = new Map<string, FrameReel>();
  const lastSampled = rememberLast(sample);
  const inTurn = turns(PAINTERS);

  async function make(file: DeskFile): Promise<OpenClip> {
    const source = await inTurn(() => openClip(file.path, signal));
    const { facts } = source;
    const upright = uprightSize(facts);
    let ticks: Promise<Float64Array> | null = null;
    let thumbnail: Promise<Uint8Array> | null = null;
    const measurements = new Map<string, Measurement>();
    let onsets: { readonly key: string; readonly samples: unknown; readonly found: ClipOnsets } | null = null;

    const ticksOnce = () => {
      ticks ??= readFrameTicks(file.path, source, signal).catch((cause: unknown) => {
        ticks = null;
        throw cause;
      });
      return ticks;
    };
    const findOnsets: typeof findClipOnsets = (samples, times, clipFacts, recipe, camera) => {
      const key = onsetsKey(recipe);
      // The light itself tells whether these are the same samples; the objects around it are made anew.
      const light = samples.regions[0]?.light;
      if (!camera && onsets?.key === key && onsets.samples === light) return onsets.found;
      const found = findClipOnsets(samples, times, clipFacts, recipe, camera);
      if (!camera) onsets = { key, samples: light, found };
      return found;
    };
    const ways = { sample: lastSampled, findOnsets };
    const remember = (recipe: Recipe, measurement: Measurement) => {
      for (const text of [JSON.stringify(recipe), JSON.stringify(measurement.recipe)]) {
        measurements.delete(text);
        measurements.set(text, measurement);
      }
      // The last two: undo goes back and forth between them.
      for (const text of [...measurements.keys()].slice(0, -4)) measurements.delete(text);
    };
    async function measure(
      recipe: Recipe,
      options: MeasureOptions = {},
      from = source,
    ): Promise<Measurement> {
      const known = measurements.get(JSON.stringify(recipe));
      if (known) return known;
      const measurement = await measureClip(from, recipe, { ...options, ...ways });
      remember(recipe, measurement);
      return measurement;
    }
    async function reelOf(width: number, height: number): Promise<FrameReel> {
      const all = await ticksOnce();
      const key = `${file.id} ${file.state} ${width}`;
      const reel =
        reels.get(key) ??
        frameReel({
          file: file.name,
          ticks: all,
          limitBytes: REEL_BYTES,
          read: (fromTick, onlyTicks) =>
            picturesFrom(
              file.path,
              facts,
              { fromTick, width, height, ...(onlyTicks ? { onlyTicks } : {}) },
              signal,
            ),
          encode: (rgb) => jpegPicture({ width, height, rgb }),
        });
      reels.delete(key);
      reels.set(key, reel);
      for (const [oldest, old] of reels) {
        if (reels.size <= REELS) break;
        reels.delete(oldest);
        void old.close();
      }
      return reel;
    }
    return {
      file,
      source,
      ticks: ticksOnce,
      ways,
      remember,
      measure,
      async frame(index, maxPx) {
        const scale = Math.min(1, maxPx / Math.max(upright.width, upright.height));
        const px = (size: number) => Math.max(1, Math.round(size * scale));
        return (await reelOf(px(upright.width), px(upright.height))).picture(index);
      },
      thumbnail() {
        thumbnail ??= inTurn(async () => {
          const frames = facts.declaredFrames ?? 0;
          const atS = (THUMBNAIL_AT * frames) / (facts.nominalRateHz ?? 30);
          return jpegPicture(await source.readStill(atS, THUMBNAIL_PX));
        }).catch((cause: unknown) => {
          thumbnail = null;
          throw cause;
        });
        return thumbnail;
      },
      measured: (recipe) => measure(recipe, {}, withoutDecoding(source)),
    };
  }

  return {
    async open(file) {
      const known = clips.get(file.id);
      if (known?.state === file.state) return known.clip;
      const clip = make(file);
      clips.set(file.id, { state: file.state, clip });
      clip.catch(() => clips.delete(file.id));
      for (const id of clips.keys()) {
        if (clips.size <= CLIPS) break;
        clips.delete(id);
      }
      return clip;
    },
    async close() {
      await Promise.all([...reels.values()].map((reel) => reel.close()));
      reels.clear();
    },
  };
}

/** A source of known facts that gives no frame: what is in a cache is found without it. */
function withoutDecoding({ facts }: FrameSource): FrameSource {
  const refuse = () =>
    Promise.reject(
      new Refusal(404, `${facts.file} was not measured with these regions yet: measure it first.`),
    );
  return { facts, readRects: refuse, readOverview: refuse, readStill: refuse };
}

/** The samples that were used last stay in memory; another clip or other regions take their place. */
function rememberLast(sample: Sample): Sample {
  let last: { readonly key: string; readonly sampled: Awaited<ReturnType<Sample>> } | null = null;
  return async (source, regions, options) => {
    const rects = regions.map(({ x, y, width, height }) => [x, y, width, height]);
    const key = JSON.stringify([source.facts.sha256, rects]);
    if (last?.key === key) {
      const { samples, times } = last.sampled;
      options?.onProgress?.(samples.frames);
      // Names and roles may have changed.
      const named = samples.regions.map((r, i) => ({ ...r, region: regions[i]! }));
      return { samples: { ...samples, regions: named }, times };
    }
    const sampled = await sample(source, regions, options);
    if (!sampled.times.stoppedEarly) last = { key, sampled };
    return sampled;
  };
}

/** Lets so many jobs run at a time; the others wait in line. */
function turns(most: number): <T>(job: () => Promise<T>) => Promise<T> {
  let running = 0;
  const line: (() => void)[] = [];
  return async (job) => {
    if (running >= most) await new Promise<void>((resolve) => line.push(resolve));
    else running++;
    try {
      return await job();
    } finally {
      // The place goes to the next in line without being free in between.
      const next = line.shift();
      if (next) next();
      else running--;
    }
  };
}
