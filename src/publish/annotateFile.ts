/** A clip on disk to an annotated film on disk: MP4, GIF or WebP, written whole or not at all. */
import { rename, rm } from 'node:fs/promises';
import { basename, dirname, extname, resolve } from 'node:path';
import { encodeRawVideo } from '../clip/encode.js';
import type { FrameSource } from '../clip/frameSource.js';
import { openClip } from '../clip/openClip.js';
import { readPictures } from '../clip/readPictures.js';
import { AnalysisError, UsageError } from '../errors.js';
import { measureClip } from '../measure.js';
import { partPath } from '../partFiles.js';
import { clipFiles, readIfThere, writeWhole } from '../record/files.js';
import { emptyRecipe, parseRecipe } from '../record/parseRecipe.js';
import type { ClipRecord } from '../record/record.js';
import { inWritableFolder } from '../record/writableFolder.js';
import type { FlashCount } from '../report/annotated/flashes.js';
import { MAX_FLASHES_PER_S } from '../report/annotated/flashes.js';
import { fixed, short } from '../report/numberText.js';
import { CAUTION_S, cautionCard } from '../report/pictures/cautionCard.js';
import {
  counterGlyphs,
  type FilmLayers,
  outlineLayer,
  type PanelLayers,
  paintFilm,
  panelLayers,
} from '../report/pictures/filmPainter.js';
import { loopingPicture } from '../report/pictures/loopingPicture.js';
import { sampleClip } from '../samples/sampleClip.js';
import {
  type AnnotateRequest,
  type AnnotationPlan,
  type PictureReader,
  planAnnotation,
} from './annotateClip.js';
import { checkOwner, readStoredRecord } from './storedRecord.js';

/** Where the record is, and how to run. */
export interface AnnotateOptions {
  /** A record elsewhere than beside the clip. */
  readonly recordPath?: string;
  readonly signal?: AbortSignal;
  readonly onProgress?: (stage: string, done: number, total: number | null) => void;
}

/** What was made. */
export interface AnnotatedFile {
  readonly format: 'lagreel-annotated';
  readonly version: 1;
  /** Name of the file that was written. */
  readonly file: string;
  readonly clip: string;
  readonly region: string;
  /** Numbers of the presses that are shown. */
  readonly presses: readonly number[];
  readonly widthPx: number;
  readonly heightPx: number;
  readonly rateHz: number;
  readonly pictures: number;
  readonly durationS: number;
  /** How much slower than life, and how much slower was asked for. */
  readonly slow: number;
  readonly slowAsked: number;
  /** WCAG 2.3.1 on the film as it is, and as it was asked for. */
  readonly flashesPerS: number;
  readonly flashesPerSAsked: number;
  readonly cautionCard: boolean;
  /** Where the record came from. */
  readonly record: 'file' | 'measured now';
  readonly warnings: readonly string[];
}

/** Formats by the ending of the file. */
export const FILM_FORMATS = { '.mp4': 'mp4', '.gif': 'gif', '.webp': 'webp' } as const;

/** A looping picture is held in memory while it is made: so many camera frames at most. */
const MAX_LOOP_STEPS = 500;

/**
 * Makes the film of one press or all.
 * @throws UsageError, AnalysisError: one sentence each; the signal's reason. No part of a file is left.
 */
export async function annotateFile(
  clipPath: string,
  outputPath: string,
  request: AnnotateRequest,
  options: AnnotateOptions = {},
): Promise<AnnotatedFile> {
  const ending = extname(outputPath).toLowerCase() as keyof typeof FILM_FORMATS;
  const format = FILM_FORMATS[ending];
  if (format === undefined)
    throw new UsageError(`${basename(outputPath)} must end in .mp4, .gif or .webp: that chooses the format`);
  if (resolve(outputPath) === resolve(clipPath))
    throw new UsageError(`${basename(outputPath)} is the clip itself: give another name with -o`);
  const source = await openClip(clipPath, options.signal);
  return inWritableFolder(dirname(outputPath), 'choose another place with -o FOLDER/NAME.mp4', async () => {
    const { record, from } = await recordOf(source, clipPath, options);
    const plan = await planOf(source, record, clipPath, request, options, format === 'mp4');
    const card = plan.paced.safe ? null : await cautionCard(plan.layout, plan.paced.flashes);
    const painted = paintedFilm(plan, record, readerOf(clipPath, source, options.signal), options);
    if (format === 'mp4') await writeMp4(outputPath, plan, card, painted, options.signal);
    else await writeWhole(outputPath, await loopOf(plan, card, painted, format, options.signal));
    return summaryOf(outputPath, plan, record, from, request, card !== null);
  });
}

async function recordOf(
  source: FrameSource,
  clipPath: string,
  { recordPath, signal, onProgress }: AnnotateOptions,
): Promise<{ record: ClipRecord; from: AnnotatedFile['record'] }> {
  const files = clipFiles(clipPath);
  const path = recordPath ?? files.record;
  const record = await readStoredRecord(path);
  const { file, sha256, bytes } = source.facts;
  if (record !== null) {
    checkOwner(record, path, { file, sha256 });
    return { record, from: 'file' };
  }
  if (recordPath !== undefined)
    throw new AnalysisError('record-invalid', `there is no record ${recordPath}: check the path`);
  const text = await readIfThere(files.recipe);
  const clip = { file, sha256, bytes };
  const recipe = text === null ? emptyRecipe(clip) : { ...parseRecipe(text, basename(files.recipe)), clip };
  const measured = await measureClip(source, recipe, {
    ...(signal ? { signal } : {}),
    onProgress: (p) => onProgress?.(p.stage, p.framesDone, p.framesTotal),
  });
  return { record: measured.record, from: 'measured now' };
}

async function planOf(
  source: FrameSource,
  record: ClipRecord,
  clipPath: string,
  request: AnnotateRequest,
  { signal, onProgress }: AnnotateOptions,
  isMovie: boolean,
): Promise<AnnotationPlan> {
  const { samples, times } = await sampleClip(source, record.recipe.regions, {
    ...(signal ? { signal } : {}),
    onProgress: (done) => onProgress?.('reading traces', done, record.clip.frames),
  });
  onProgress?.('looking for flashes', 0, null);
  const read = readerOf(clipPath, source, signal);
  const kind = isMovie ? 'film' : 'loop';
  const plan = await planAnnotation(source, record, samples, times, read, request, kind);
  if (isMovie || plan.paced.film.steps.length <= MAX_LOOP_STEPS) return plan;
  throw new UsageError(
    `${plan.paced.film.steps.length} camera frames are too many for one GIF or WebP (at most ${MAX_LOOP_STEPS}): choose one press with --press, or write an MP4`,
  );
}

function readerOf(clipPath: string, source: FrameSource, signal: AbortSignal | undefined): PictureReader {
  return (runs, width, height, scaling) =>
    readPictures(clipPath, source.facts, { runs, width, height, scaling }, signal);
}

/** A painted picture and how many pictures of the film it fills. */
interface Painted {
  readonly picture: Uint8Array;
  readonly repeats: number;
}

async function* paintedFilm(
  plan: AnnotationPlan,
  record: ClipRecord,
  read: PictureReader,
  { onProgress }: AnnotateOptions,
): AsyncGenerator<Painted> {
  const { layout, paced } = plan;
  const wanted = new Set([plan.led, plan.region]);
  const outlined = record.recipe.regions.filter((r) => wanted.has(r.name));
  const layers: FilmLayers = {
    layout,
    glyphs: await counterGlyphs(layout),
    outlines: await outlineLayer(layout, outlined, record.clip.width),
  };
  const pictures = read(plan.runs, layout.picture.width, layout.picture.height, 'sharp')[
    Symbol.asyncIterator
  ]();
  let panel: { readonly scene: number; readonly layers: PanelLayers } | undefined;
  let index = 0;
  try {
    for (const [done, { scene, shown, repeats }] of paced.film.steps.entries()) {
      if (panel?.scene !== scene) {
        panel = { scene, layers: await panelLayers(layout, plan.words[scene]!) };
        index = 0;
      }
      const next = await pictures.next();
      if (next.done) throw new Error('fewer pictures than frames');
      const { counterMs, phase } = shown;
      yield {
        picture: paintFilm(layers, panel.layers, { rgb: next.value, counterMs, phase, index }),
        repeats,
      };
      index++;
      onProgress?.('painting', done + 1, paced.film.steps.length);
    }
  } finally {
    await pictures.return?.();
  }
}

// Colours of HD video; the pictures are RGB, so the conversion has to be told (swscale would take BT.601).
const MP4_OPTIONS = [
  ...['-vf', 'scale=in_range=full:out_range=tv:out_color_matrix=bt709', '-pix_fmt', 'yuv420p'],
  ...['-c:v', 'libx264', '-preset', 'faster', '-crf', '18', '-bf', '2'],
  ...['-color_range', 'tv', '-colorspace', 'bt709', '-color_primaries', 'bt709', '-color_trc', 'bt709'],
  ...['-movflags', '+faststart', '-f', 'mp4'],
];

async function writeMp4(
  outputPath: string,
  plan: AnnotationPlan,
  card: Uint8Array | null,
  painted: AsyncIterable<Painted>,
  signal: AbortSignal | undefined,
): Promise<void> {
  const { rateHz } = plan.paced.film;
  const part = partPath(outputPath);
  async function* frames(): AsyncGenerator<Uint8Array> {
    if (card !== null) for (let i = 0; i < Math.round(CAUTION_S * rateHz); i++) yield card;
    for await (const { picture, repeats } of painted) for (let i = 0; i < repeats; i++) yield picture;
  }
  try {
    await encodeRawVideo({
      widthPx: plan.layout.width,
      heightPx: plan.layout.height,
      pixelFormat: 'rgb24',
      rateHz,
      frames: frames(),
      outputPath: part,
      outputOptions: MP4_OPTIONS,
      ...(signal ? { signal } : {}),
    });
    signal?.throwIfAborted();
    await rename(part, outputPath);
  } finally {
    await rm(part, { force: true });
  }
}

async function loopOf(
  plan: AnnotationPlan,
  card: Uint8Array | null,
  painted: AsyncIterable<Painted>,
  format: 'gif' | 'webp',
  signal: AbortSignal | undefined,
): Promise<Uint8Array> {
  const pictures: Uint8Array[] = card === null ? [] : [card];
  const shownS: number[] = card === null ? [] : [CAUTION_S];
  for await (const { picture, repeats } of painted) {
    signal?.throwIfAborted();
    pictures.push(picture);
    shownS.push(repeats / plan.paced.film.rateHz);
  }
  const { width, height } = plan.layout;
  const bytes = await loopingPicture({ width, height, pictures, shownS }, format);
  signal?.throwIfAborted();
  return bytes;
}

function summaryOf(
  outputPath: string,
  { layout, paced, region, scenes }: AnnotationPlan,
  record: ClipRecord,
  from: AnnotatedFile['record'],
  request: AnnotateRequest,
  hasCard: boolean,
): AnnotatedFile {
  const { film, flashes, asked } = paced;
  const cardS = hasCard ? CAUTION_S : 0;
  const times = (f: FlashCount) => `${fixed(f.flashesPerS, 1)} times in a second`;
  const limit = `WCAG 2.3.1 allows ${MAX_FLASHES_PER_S}`;
  const warnings: string[] = [];
  if (film.slow !== request.slow)
    warnings.push(
      `${short(request.slow)} times slower would flash up to ${times(asked.flashes)} (${limit}), so the film is ${film.slow} times slower.`,
    );
  if (!paced.safe)
    warnings.push(`The film flashes up to ${times(flashes)} (${limit}): it begins with a caution card.`);
  return {
    format: 'lagreel-annotated',
    version: 1,
    file: basename(outputPath),
    clip: record.clip.file,
    region,
    presses: scenes.map((s) => s.press.index),
    widthPx: layout.width,
    heightPx: layout.height,
    rateHz: film.rateHz,
    pictures: film.pictures + Math.round(cardS * film.rateHz),
    durationS: film.pictures / film.rateHz + cardS,
    slow: film.slow,
    slowAsked: request.slow,
    flashesPerS: flashes.flashesPerS,
    flashesPerSAsked: asked.flashes.flashesPerS,
    cautionCard: hasCard,
    record: from,
    warnings,
  };
}
