/** The library with files and FFmpeg: everything of `index.ts`, and whole clips on disk. */
import { basename, dirname } from 'node:path';
import { completeRecord, wouldRepeat } from './archive/finished.js';
import { type OverviewStore, writeResults } from './archive/writeResults.js';
import { type CalibrationRequest, calibrateClip } from './calibrate/calibrateClip.js';
import { identifyClip } from './clip/clipFile.js';
import type { FrameSource, ReadOptions } from './clip/frameSource.js';
import { AnotherClip, type ExpectedClip, type FactsStore, openClip } from './clip/openClip.js';
import { AnalysisError, UsageError } from './errors.js';
import { type Inspection, inspectClip } from './inspect.js';
import { type Measurement, type MeasureOptions, measureClip } from './measure.js';
import { removeLeftovers } from './partFiles.js';
import { type CameraCalibration, cameraOf, parseCamera } from './record/camera.js';
import { type ClipFiles, clipFiles, readIfThere, toJsonText, writeWhole } from './record/files.js';
import { emptyRecipe, parseRecipe } from './record/parseRecipe.js';
import type { Recipe } from './record/recipe.js';
import type { ClipRecord } from './record/record.js';
import { inWritableFolder } from './record/writableFolder.js';
import { type EncodedClip, type EncodeOptions, encodeClip } from './simulate/encodeClip.js';
import type { Scene } from './simulate/scene.js';

export type { ClipCheck, DriftCause } from './archive/recheckClip.js';
export { type FolderCheck, type FolderRecheckOptions, recheckFolder } from './archive/recheckFolder.js';
export { renderRecheck } from './archive/recheckText.js';
export { clipsIfAny, clipsIn, isFolder } from './clip/clipFolder.js';
export { openClip } from './clip/openClip.js';
export { type ComparedFiles, type CompareFilesOptions, compareFiles, readSession } from './compareFiles.js';
export { cachedFacts } from './factsCache.js';
export { cachedFindings } from './findingsCache.js';
export * from './index.js';
export { cachedOverviews } from './overviewCache.js';
export { removeLeftovers } from './partFiles.js';
export type { AnnotateRequest } from './publish/annotateClip.js';
export { type AnnotatedFile, type AnnotateOptions, annotateFile } from './publish/annotateFile.js';
export { type BoardFiles, boardFiles } from './publish/boardFiles.js';
export { type CardFile, type CardRequest, cardFile } from './publish/cardFile.js';
export { SESSION_FILE, type SessionClip } from './record/session.js';
export { withSession } from './record/withSession.js';
export { inWritableFolder } from './record/writableFolder.js';
export { cachedSampleClip } from './samples/cache.js';
export {
  type CacheContent,
  cacheContent,
  cacheFolder,
  clearCache,
  DEFAULT_CACHE_BYTES,
  type SamplesCache,
} from './samples/cacheEntries.js';

/** How `measureFile` runs. */
export interface MeasureFileOptions extends MeasureOptions {
  /** A recipe elsewhere than among the results or beside the clip; `null` uses none. */
  readonly recipePath?: string | null;
  /** Folder for all results; default the clip's own. */
  readonly outFolder?: string;
  /** Writes the recipe even where there is one. */
  readonly updateRecipe?: boolean;
  /** Lays the caller's own settings over the recipe of the file. */
  readonly adjustRecipe?: (recipe: Recipe) => Recipe;
  /** A place where overview pictures are kept. */
  readonly overviews?: OverviewStore;
  /** A place where facts of clips are kept. */
  readonly facts?: FactsStore;
  /** The clip, where the caller has it open. */
  readonly source?: FrameSource;
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
 * Every file is written as a whole or not at all, and none before the measurement is complete; a clip in which no
 * press was seen leaves nothing behind. A record that is replaced by another is kept in `NAME.history`.
 * @throws UsageError, AnalysisError: one sentence each.
 */
export async function measureFile(clipPath: string, options: MeasureFileOptions = {}): Promise<MeasuredFile> {
  const files = clipFiles(clipPath, options.outFolder);
  if (options.source) return measureOpened(options.source, clipPath, files, options);
  const source = await openClip(clipPath, options.signal, await recordedClip(files.record), options.facts);
  try {
    return await measureOpened(source, clipPath, files, options);
  } catch (error) {
    // Whatever went wrong, it was taken for a clip that it is not.
    if (!(await isAnother(source))) throw error;
  }
  return measureOpened(await openClip(clipPath, options.signal), clipPath, files, options);
}

async function measureOpened(
  source: FrameSource,
  clipPath: string,
  files: ClipFiles,
  options: MeasureFileOptions,
): Promise<MeasuredFile> {
  const remedy = 'choose another folder with --out FOLDER';
  return inWritableFolder(dirname(files.record), remedy, async () => {
    const stored = await recipeOf(identityOf(source.facts), clipPath, options);
    const asked = options.adjustRecipe ? options.adjustRecipe(stored) : stored;
    const measurement = await measureClip(source, asked, options);
    const recipeWritten = options.updateRecipe || (await readIfThere(files.recipe)) === null;
    const { signal, overviews } = options;
    await writeResults(source, measurement, files, { writeRecipe: recipeWritten, signal, overviews });
    // By now it is the clip that it was taken for.
    await options.facts?.keep(source.facts);
    return { measurement, files, recipeWritten };
  });
}

/** The clip of a record, if it is there and says which; what the file is most likely to be. */
async function recordedClip(path: string): Promise<ExpectedClip | undefined> {
  try {
    const { sha256, bytes } = JSON.parse((await readIfThere(path)) ?? '').clip;
    return /^[0-9a-f]{64}$/.test(sha256) && Number.isInteger(bytes) ? { sha256, bytes } : undefined;
  } catch {
    return undefined;
  }
}

async function isAnother({ confirmed }: FrameSource): Promise<boolean> {
  try {
    await confirmed?.();
    return false;
  } catch (error) {
    return error instanceof AnotherClip;
  }
}

/**
 * The record of a clip that `measureFile` would only measure to the same bytes again, so that a folder whose run was
 * stopped can be gone through from where it stopped; reads the clip for its checksum alone, and decodes nothing.
 * @returns null where the clip is to be measured: a result is missing, or clip, recipe, version or FFmpeg is another.
 *   Also where that cannot be told: with a camera file, or without a recipe.
 * @throws UsageError, AnalysisError where the clip or its recipe cannot be read.
 */
export async function finishedRecord(
  clipPath: string,
  options: MeasureFileOptions = {},
): Promise<ClipRecord | null> {
  if (options.updateRecipe || options.camera || options.recipePath === null) return null;
  const record = await completeRecord(clipFiles(clipPath, options.outFolder));
  if (record === null) return null;
  const clip = await identifyClip(clipPath, options.signal);
  const file = await recipeOf(clip, clipPath, options);
  const recipe = options.adjustRecipe ? options.adjustRecipe(file) : file;
  return (await wouldRepeat(record, recipe, file)) ? record : null;
}

/** Inspects a clip on disk; writes nothing. */
export async function inspectFile(
  clipPath: string,
  options: Omit<MeasureFileOptions, 'outFolder' | 'updateRecipe'> = {},
): Promise<Inspection> {
  const source = await openClip(clipPath, options.signal);
  const recipe = await recipeOf(identityOf(source.facts), clipPath, options);
  return inspectClip(source, options.adjustRecipe ? options.adjustRecipe(recipe) : recipe, options);
}

function identityOf({ file, sha256, bytes }: Recipe['clip']): Recipe['clip'] {
  return { file, sha256, bytes };
}

/** The recipe of a clip: the named file, else the one among the results, else the one beside it, else an empty one. */
async function recipeOf(
  clip: Recipe['clip'],
  clipPath: string,
  { recipePath, outFolder }: MeasureFileOptions,
): Promise<Recipe> {
  if (recipePath === null) return emptyRecipe(clip);
  const places =
    recipePath !== undefined
      ? [recipePath]
      : [...new Set([outFolder, undefined])].map((folder) => clipFiles(clipPath, folder).recipe);
  for (const path of places) {
    const text = await readIfThere(path);
    if (text !== null) return { ...checkedRecipe(text, path, clip), clip };
  }
  if (recipePath === undefined) return emptyRecipe(clip);
  throw new AnalysisError('recipe-invalid', `there is no recipe ${recipePath}: check the path`);
}

function checkedRecipe(text: string, path: string, clip: Recipe['clip']): Recipe {
  const recipe = parseRecipe(text, basename(path));
  if (recipe.clip.sha256 === '' || recipe.clip.sha256 === clip.sha256) return recipe;
  throw new UsageError(
    `${basename(path)} is the recipe of another clip (${recipe.clip.file}, sha256 ${recipe.clip.sha256.slice(0, 12)}…), ` +
      `not of ${clip.file} (${clip.sha256.slice(0, 12)}…): name the right one with --recipe, or clear its sha256 to use it as a pattern`,
  );
}

/**
 * Calibrates a camera by a clip on disk and writes the camera file, as a whole or not at all.
 * @param cameraPath the file to write, NAME.json; its folder is made where needed
 * @throws UsageError, AnalysisError: one sentence each.
 */
export async function calibrateFile(
  clipPath: string,
  cameraPath: string,
  request: CalibrationRequest,
  options: ReadOptions = {},
): Promise<CameraCalibration> {
  const source = await openClip(clipPath, options.signal);
  return inWritableFolder(dirname(cameraPath), 'choose another place with -o FOLDER/NAME.json', async () => {
    const camera = cameraOf(await calibrateClip(source, request, options), source.facts);
    options.signal?.throwIfAborted();
    await writeWhole(cameraPath, toJsonText(camera));
    return camera;
  });
}

/**
 * Reads a camera file.
 * @throws AnalysisError `recipe-invalid` where there is none, or it is no camera file.
 */
export async function readCameraFile(path: string): Promise<CameraCalibration> {
  const text = await readIfThere(path);
  if (text !== null) return parseCamera(text, basename(path));
  throw new AnalysisError('recipe-invalid', `there is no camera file ${path}: check the path`);
}

/** Renders and encodes a simulated clip, `SCENE.name.mp4` with its truth beside it; makes the folder where needed. */
export async function simulateFile(
  scene: Scene,
  folder: string,
  options: EncodeOptions = {},
): Promise<EncodedClip> {
  const remedy = 'choose another place with -o FOLDER/NAME.mp4';
  return inWritableFolder(folder, remedy, async () => {
    await removeLeftovers(folder);
    return encodeClip(scene, folder, options);
  });
}
