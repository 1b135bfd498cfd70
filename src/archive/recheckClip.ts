/** Measures one archived clip again and tells what moved, and by whose doing. */
import { basename, dirname, join } from 'node:path';
import type { FrameSource } from '../clip/frameSource.js';
import { openClip } from '../clip/openClip.js';
import { UsageError } from '../errors.js';
import { type Measurement, type MeasureOptions, measureClip } from '../measure.js';
import { clipFiles, readIfThere } from '../record/files.js';
import { parseRecipe } from '../record/parseRecipe.js';
import { parseRecord } from '../record/parseRecord.js';
import type { Recipe } from '../record/recipe.js';
import type { ClipRecord } from '../record/record.js';
import { type Movement, movementOf } from './movement.js';
import { movesNumbers, recipeChanges } from './recipeChanges.js';
import { writeResults } from './writeResults.js';

/** Something that is not what it was. */
export interface OldAndNew {
  readonly old: string;
  readonly new: string;
}

/** Why a number drifted, as far as it can be told. */
export type DriftCause = 'clip' | 'recipe' | 'version' | 'unexplained';

/** The answer on one clip. */
export interface ClipCheck {
  /** Base names. */
  readonly clip: string;
  readonly record: string;
  /** `moved`: something changed, every number within tolerance; `drifted`: the clip changed, or a number is beyond it. */
  readonly status: 'unchanged' | 'moved' | 'drifted';
  /** SHA-256 of the clip, where it changed. */
  readonly clipChanged: OldAndNew | null;
  /** Keys in which the recipe file decides otherwise than the record's own recipe. */
  readonly recipeChanged: readonly string[];
  /** Version of lagreel, where it changed. */
  readonly versionChanged: OldAndNew | null;
  /** FFmpeg's version line, where it changed. */
  readonly decoderChanged: OldAndNew | null;
  readonly movement: Movement;
  /** null where nothing drifted. */
  readonly cause: DriftCause | null;
  /** True where the new results were written and the old record went to the history. */
  readonly updated: boolean;
}

/** How to measure again. */
export interface RecheckOptions extends MeasureOptions {
  /** How far a number may move, as a share of its standard uncertainty. */
  readonly tolerance: number;
  /** Folder of the clips, where they do not stand beside their records. */
  readonly clipFolder?: string;
  /** Writes the new results where something moved; the old record is kept as history. */
  readonly update?: boolean;
}

/**
 * Measures a clip again by the recipe in force: the recipe file beside the record, else the record's own. Where the two
 * differ, the clip is also measured by the record's own, so that a changed decision is told from a changed method.
 * @throws UsageError, AnalysisError: one sentence each.
 */
export async function recheckClip(recordPath: string, options: RecheckOptions): Promise<ClipCheck> {
  const { camera, ...measuring } = options;
  const text = await readIfThere(recordPath);
  const old = parseRecord(text ?? '', basename(recordPath));
  const clipPath = join(options.clipFolder ?? dirname(recordPath), basename(old.clip.file));
  const files = clipFiles(clipPath, dirname(recordPath));
  const source = await openClip(clipPath, options.signal);
  const calibrated = old.timing.readoutSource === 'calibrated';
  if (calibrated && !camera) {
    throw new UsageError(
      `${old.clip.file} was measured with a camera file: name it with --camera FILE, or its readout is not the same`,
    );
  }
  const measure = (recipe: Recipe) =>
    measureClip(source, recipe, calibrated && camera ? { ...measuring, camera } : measuring);
  const inForce = await recipeInForce(files.recipe, old, source);
  const again = await measure({ ...old.recipe, clip: clipNow(source) });
  const changes = inForce ? recipeChanges(old.recipe, inForce) : [];
  const now = inForce && changes.some(movesNumbers) ? await measure(inForce) : again;
  const check = compare(basename(recordPath), old, { again, now, changes }, options.tolerance);
  if (!options.update || check.status === 'unchanged') return check;
  await writeResults(source, withLabels(now, inForce), files, { writeRecipe: false, signal: options.signal });
  return { ...check, updated: true };
}

function compare(
  record: string,
  old: ClipRecord,
  { again, now, changes }: { again: Measurement; now: Measurement; changes: readonly string[] },
  tolerance: number,
): ClipCheck {
  const movement = movementOf(old, now.record, tolerance);
  const clipChanged = changed(old.clip.sha256, now.record.clip.sha256);
  const versionChanged = changed(old.tool.version, now.record.tool.version);
  const decoderChanged = changed(old.tool.ffmpeg, now.record.tool.ffmpeg);
  const drifted = clipChanged !== null || movement.drifted;
  const quiet =
    movement.moved.length === 0 && changes.length === 0 && versionChanged === null && decoderChanged === null;
  const cause = (): DriftCause => {
    if (clipChanged) return 'clip';
    const byOwnRecipe = now === again ? movement : movementOf(old, again.record, tolerance);
    if (!byOwnRecipe.drifted) return 'recipe';
    return versionChanged || decoderChanged ? 'version' : 'unexplained';
  };
  return {
    clip: old.clip.file,
    record,
    status: drifted ? 'drifted' : quiet ? 'unchanged' : 'moved',
    clipChanged,
    recipeChanged: changes,
    versionChanged,
    decoderChanged,
    movement,
    cause: drifted ? cause() : null,
    updated: false,
  };
}

function changed(old: string, now: string): OldAndNew | null {
  return old === now ? null : { old, new: now };
}

/** Labels of the record stay (a session table may have given them); those of the recipe file stand above. */
async function recipeInForce(path: string, old: ClipRecord, source: FrameSource): Promise<Recipe | null> {
  const text = await readIfThere(path);
  if (text === null) return null;
  const recipe = parseRecipe(text, basename(path));
  return { ...recipe, clip: clipNow(source), labels: { ...old.recipe.labels, ...recipe.labels } };
}

function withLabels(measurement: Measurement, inForce: Recipe | null): Measurement {
  if (!inForce) return measurement;
  const recipe = { ...measurement.recipe, labels: inForce.labels };
  return { ...measurement, recipe, record: { ...measurement.record, recipe } };
}

function clipNow({ facts }: FrameSource): Recipe['clip'] {
  return { file: facts.file, sha256: facts.sha256, bytes: facts.bytes };
}
