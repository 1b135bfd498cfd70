/** The library with files and FFmpeg: everything of `index.ts`, and whole clips on disk. */
import { basename, dirname } from 'node:path';
import type { FrameSource } from './clip/frameSource.js';
import { uprightSize } from './clip/frameSource.js';
import { openClip } from './clip/openClip.js';
import { AnalysisError, UsageError } from './errors.js';
import { type Inspection, inspectClip } from './inspect.js';
import { type Measurement, type MeasureOptions, measureClip } from './measure.js';
import {
  type ClipFiles,
  checkWritable,
  clipFiles,
  readIfThere,
  toJsonText,
  writeWhole,
} from './record/files.js';
import { emptyRecipe, parseRecipe } from './record/parseRecipe.js';
import type { Recipe } from './record/recipe.js';
import { drawOverlay } from './report/pictures/overlay.js';
import { renderPressesCsv } from './report/pressesCsv.js';
import { renderReport } from './report/reportHtml.js';
import { type EncodedClip, type EncodeOptions, encodeClip } from './simulate/encodeClip.js';
import type { Scene } from './simulate/scene.js';

export { openClip } from './clip/openClip.js';
export * from './index.js';

/** How `measureFile` runs. */
export interface MeasureFileOptions extends MeasureOptions {
  /** A recipe elsewhere than beside the clip. */
  readonly recipePath?: string;
  /** Folder for all results; default the clip's own. */
  readonly outFolder?: string;
  /** Writes the recipe even where there is one. */
  readonly updateRecipe?: boolean;
  /** Lays the caller's own settings over the recipe of the file. */
  readonly adjustRecipe?: (recipe: Recipe) => Recipe;
}

/** A measured clip on disk. */
export interface MeasuredFile {
  readonly measurement: Measurement;
  readonly files: ClipFiles;
  /** True where the recipe was written by this call. */
  readonly recipeWritten: boolean;
}

/**
 * Measures a clip on disk and writes record, table, report, overview picture and, where there was none, the recipe.
 * Every file is written as a whole or not at all, and none before the measurement is complete.
 * @throws UsageError, AnalysisError: one sentence each.
 */
export async function measureFile(clipPath: string, options: MeasureFileOptions = {}): Promise<MeasuredFile> {
  const files = clipFiles(clipPath, options.outFolder);
  const source = await openClip(clipPath, options.signal);
  await checkWritable(dirname(files.record));
  const { recipe: stored, exists } = await recipeOf(source, files, options.recipePath);
  const asked = options.adjustRecipe ? options.adjustRecipe(stored) : stored;
  const measurement = await measureClip(source, asked, options);
  const picture = await overviewPicture(source, measurement);
  options.signal?.throwIfAborted();
  const { record, evidence } = measurement;
  await writeWhole(files.record, toJsonText(record));
  await writeWhole(files.csv, renderPressesCsv(record));
  await writeWhole(files.regions, picture);
  await writeWhole(files.report, renderReport(record, { ...evidence, overviewJpeg: picture }));
  const recipeWritten = !exists || (options.updateRecipe ?? false);
  if (recipeWritten) await writeWhole(files.recipe, toJsonText(measurement.recipe));
  return { measurement, files, recipeWritten };
}

/** Inspects a clip on disk; writes nothing. */
export async function inspectFile(
  clipPath: string,
  options: Omit<MeasureFileOptions, 'outFolder' | 'updateRecipe'> = {},
): Promise<Inspection> {
  const source = await openClip(clipPath, options.signal);
  const { recipe } = await recipeOf(source, clipFiles(clipPath), options.recipePath);
  return inspectClip(source, options.adjustRecipe ? options.adjustRecipe(recipe) : recipe, options);
}

/** The recipe of a clip: the named file, else the one beside it (or in the results' folder), else an empty one. */
async function recipeOf(
  source: FrameSource,
  files: ClipFiles,
  recipePath: string | undefined,
): Promise<{ recipe: Recipe; exists: boolean }> {
  const { facts } = source;
  const clip = { file: facts.file, sha256: facts.sha256, bytes: facts.bytes };
  const path = recipePath ?? files.recipe;
  const text = await readIfThere(path);
  if (text === null) {
    if (recipePath !== undefined) {
      throw new AnalysisError('recipe-invalid', `there is no recipe ${recipePath}: check the path`);
    }
    return { recipe: emptyRecipe(clip), exists: false };
  }
  const recipe = parseRecipe(text, basename(path));
  if (recipe.clip.sha256 !== '' && recipe.clip.sha256 !== facts.sha256) {
    throw new UsageError(
      `${basename(path)} is the recipe of another clip (${recipe.clip.file}, sha256 ${recipe.clip.sha256.slice(0, 12)}…), ` +
        `not of ${facts.file} (${facts.sha256.slice(0, 12)}…): name the right one with --recipe, or clear its sha256 to use it as a pattern`,
    );
  }
  return {
    recipe: { ...recipe, clip },
    exists: recipePath === undefined || (await readIfThere(files.recipe)) !== null,
  };
}

/** The frame of the first press with the regions drawn in, JPEG. */
async function overviewPicture(source: FrameSource, measurement: Measurement): Promise<Uint8Array> {
  const { record, recipe } = measurement;
  const first = record.presses[0]?.responses.find((r) => r.halfS !== undefined);
  const capturedS = first?.settledS ?? record.clip.durationS / 2;
  // The picture is found by media time; on a retimed clip that runs slower than the capture clock.
  const mediaS = (capturedS / record.clip.durationS) * mediaDurationS(source, record.clip.frames);
  const picture = await source.readStill(mediaS, 960);
  return drawOverlay(picture, recipe.regions, { fullWidthPx: uprightSize(source.facts).width });
}

function mediaDurationS(source: FrameSource, frames: number): number {
  return frames / (source.facts.nominalRateHz ?? 30);
}

/** Renders and encodes a simulated clip, `SCENE.name.mp4` with its truth beside it; makes the folder where needed. */
export async function simulateFile(
  scene: Scene,
  folder: string,
  options: EncodeOptions = {},
): Promise<EncodedClip> {
  await checkWritable(folder);
  return encodeClip(scene, folder, options);
}
