/** Whether a clip was measured to the end before, and would be measured in just the same way again. */
import { stat } from 'node:fs/promises';
import { basename } from 'node:path';
import { isDeepStrictEqual } from 'node:util';
import { findFfmpeg } from '../clip/ffmpeg.js';
import { AnalysisError } from '../errors.js';
import { type ClipFiles, readIfThere } from '../record/files.js';
import { parseRecord } from '../record/parseRecord.js';
import type { Recipe } from '../record/recipe.js';
import type { ClipRecord } from '../record/record.js';
import type { Region } from '../region/region.js';
import { renderPressesCsv } from '../report/pressesCsv.js';
import { version } from '../version.js';

/**
 * The record of a clip all of whose results are there, whole and of one measurement: `writeResults` writes the record
 * after table, picture and report, and the recipe after the record.
 * @returns null where anything is missing, or the table is not the record's own.
 */
export async function completeRecord(files: ClipFiles): Promise<ClipRecord | null> {
  for (const path of [files.record, files.csv, files.regions, files.report, files.recipe]) {
    const facts = await stat(path).catch(() => null);
    if (!facts?.isFile() || facts.size === 0) return null;
  }
  try {
    const record = parseRecord((await readIfThere(files.record)) ?? '', basename(files.record));
    // A run that was stopped after the table leaves the record of the run before.
    return (await readIfThere(files.csv)) === renderPressesCsv(record) ? record : null;
  } catch (error) {
    if (error instanceof AnalysisError) return null;
    throw error;
  }
}

/**
 * True where measuring by this recipe now gives the record again: the same clip, version, FFmpeg and recipe, key by key
 * in both directions. A recipe that leaves regions open is the same where the record tells that just these were found;
 * what is found in a clip depends on nothing else. A record that took its readout from a camera file is never the same.
 * @param recipe what would be measured by now, with options and labels of the session laid over it.
 * @param file the recipe file alone: regions that were found carry no labels of the session until they are named there,
 *   so such labels may be missing in the record.
 */
export async function wouldRepeat(record: ClipRecord, recipe: Recipe, file: Recipe): Promise<boolean> {
  if (record.tool.version !== version || record.clip.sha256 !== recipe.clip.sha256) return false;
  if (record.timing.readoutSource === 'calibrated') return false;
  if (record.tool.ffmpeg !== (await findFfmpeg()).versionLine) return false;
  const isOpen = ['led', 'screen'].some((role) => recipe.regions.every((r) => r.role !== role));
  const given = isOpen ? givenRecipe(record) : record.recipe;
  return given !== null && isSameRecipe(given, recipe, file);
}

/** The recipe as it was before regions were found; null where the record does not tell, or all were named. */
function givenRecipe({ recipe, found }: ClipRecord): Recipe | null {
  if (found === undefined) return null;
  return {
    ...recipe,
    regions: recipe.regions.filter((r) => !found.regions.includes(r.name)),
    cue: { ...recipe.cue, edge: found.edgeGiven },
  };
}

/** As `wouldRepeat`, of the recipes alone. */
export function isSameRecipe(measuredBy: Recipe, asked: Recipe, file: Recipe): boolean {
  const { regions: before, ...restBefore } = measuredBy;
  const { regions: now, ...restNow } = asked;
  if (!isDeepStrictEqual(restBefore, restNow)) return false;
  if (before.length !== now.length) return false;
  return now.every((region, i) => {
    const old = before[i]!;
    const inFile = file.regions.find((r) => r.name === region.name) ?? region;
    if (!isDeepStrictEqual(withoutLabels(old), withoutLabels(region))) return false;
    return [region, inFile].some((r) => isDeepStrictEqual(r.labels ?? {}, old.labels ?? {}));
  });
}

function withoutLabels({ labels: _, ...place }: Region): Omit<Region, 'labels'> {
  return place;
}
