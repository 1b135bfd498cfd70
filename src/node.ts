/** The library with files and FFmpeg: everything of `index.ts`, and whole clips on disk. */
import { basename, dirname } from 'node:path';
import { type CalibrationRequest, calibrateClip } from './calibrate/calibrateClip.js';
import type { FrameSource, ReadOptions } from './clip/frameSource.js';
import { uprightSize } from './clip/frameSource.js';
import { openClip } from './clip/openClip.js';
import { AnalysisError, UsageError } from './errors.js';
import { type Inspection, inspectClip } from './inspect.js';
import { type Measurement, type MeasureOptions, measureClip } from './measure.js';
import { type CameraCalibration, cameraOf, parseCamera } from './record/camera.js';
import { type ClipFiles, clipFiles, readIfThere, toJsonText, writeWhole } from './record/files.js';
import { emptyRecipe, parseRecipe } from './record/parseRecipe.js';
import type { Recipe } from './record/recipe.js';
import type { ClipRecord } from './record/record.js';
import { inWritableFolder } from './record/writableFolder.js';
import { drawOverlay } from './report/pictures/overlay.js';
import { renderPressesCsv } from './report/pressesCsv.js';
import { renderReport } from './report/reportHtml.js';
import { type EncodedClip, type EncodeOptions, encodeClip } from './simulate/encodeClip.js';
import type { Scene } from './simulate/scene.js';

export { clipsIn, isFolder } from './clip/clipFolder.js';
export { openClip } from './clip/openClip.js';
export { type ComparedFiles, type CompareFilesOptions, compareFiles, readSession } from './compareFiles.js';
export * from './index.js';
export type { AnnotateRequest } from './publish/annotateClip.js';
export { type AnnotatedFile, type AnnotateOptions, annotateFile } from './publish/annotateFile.js';
export { type BoardFiles, boardFiles } from './publish/boardFiles.js';
export { type CardFile, type CardRequest, cardFile } from './publish/cardFile.js';
export { SESSION_FILE, type SessionClip } from './record/session.js';

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
 * press was seen leaves nothing behind.
 * @throws UsageError, AnalysisError: one sentence each.
 */
export async function measureFile(clipPath: string, options: MeasureFileOptions = {}): Promise<MeasuredFile> {
  const files = clipFiles(clipPath, options.outFolder);
  const source = await openClip(clipPath, options.signal);
  const remedy = 'choose another folder with --out FOLDER';
  return inWritableFolder(dirname(files.record), remedy, async () => {
    const stored = await recipeOf(source, clipPath, options);
    const asked = options.adjustRecipe ? options.adjustRecipe(stored) : stored;
    const measurement = await measureClip(source, asked, options);
    checkPresses(measurement.record);
    const picture = await overviewPicture(source, measurement);
    const recipeWritten = options.updateRecipe || (await readIfThere(files.recipe)) === null;
    options.signal?.throwIfAborted();
    const { record, evidence } = measurement;
    await writeWhole(files.record, toJsonText(record));
    await writeWhole(files.csv, renderPressesCsv(record));
    await writeWhole(files.regions, picture);
    await writeWhole(files.report, renderReport(record, { ...evidence, overviewJpeg: picture }));
    if (recipeWritten) await writeWhole(files.recipe, toJsonText(measurement.recipe));
    return { measurement, files, recipeWritten };
  });
}

function checkPresses({ presses, fitness, clip }: ClipRecord): void {
  if (presses.length > 0) return;
  const reasons = fitness.reasons.filter((r) => r.severity === 'unfit').map((r) => r.text);
  throw new AnalysisError(
    'nothing-measurable',
    `no press was seen in ${clip.file}: ${reasons.join(' ') || 'check the LED region with --region led=led:x,y,width,height'}`,
  );
}

/** Inspects a clip on disk; writes nothing. */
export async function inspectFile(
  clipPath: string,
  options: Omit<MeasureFileOptions, 'outFolder' | 'updateRecipe'> = {},
): Promise<Inspection> {
  const source = await openClip(clipPath, options.signal);
  const recipe = await recipeOf(source, clipPath, options);
  return inspectClip(source, options.adjustRecipe ? options.adjustRecipe(recipe) : recipe, options);
}

/** The recipe of a clip: the named file, else the one among the results, else the one beside it, else an empty one. */
async function recipeOf(
  source: FrameSource,
  clipPath: string,
  { recipePath, outFolder }: MeasureFileOptions,
): Promise<Recipe> {
  const { facts } = source;
  const clip = { file: facts.file, sha256: facts.sha256, bytes: facts.bytes };
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
  return inWritableFolder(folder, remedy, () => encodeClip(scene, folder, options));
}
