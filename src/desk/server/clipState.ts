/** What stands on disk about a clip: recipe, record and the folder's session table. */
import { basename, join } from 'node:path';
import { isDeepStrictEqual } from 'node:util';
import { readSession, SESSION_FILE, type SessionClip, withSession } from '../../node.js';
import { readIfThere } from '../../record/files.js';
import { parseRecipe } from '../../record/parseRecipe.js';
import { parseRecord } from '../../record/parseRecord.js';
import type { Recipe } from '../../record/recipe.js';
import type { ClipRecord } from '../../record/record.js';
import { besideClip, type DeskFile, type DeskFolder } from './deskFolder.js';
import { readRecipeFile } from './recipeFile.js';
import { refusalOf } from './refusal.js';

/** What stands on disk about a clip. */
export interface ClipState {
  readonly recipe: Recipe | null;
  readonly recipeTag: string | null;
  readonly record: ClipRecord | null;
  /** The clip's row of the session table. */
  readonly row: SessionClip | undefined;
  /** True where the record was made by another recipe than it would be now. */
  readonly outdated: boolean;
  /** What cannot be read, one sentence each. */
  readonly faults: readonly string[];
}

/** Reads what stands on disk; a file that cannot be read is a fault among the others, and nothing is thrown. */
export async function clipState(folder: DeskFolder, file: DeskFile): Promise<ClipState> {
  const faults: string[] = [];
  const orFault = async <T>(read: () => Promise<T | null>): Promise<T | null> => {
    try {
      return await read();
    } catch (error) {
      faults.push(refusalOf(error, folder.root).message);
      return null;
    }
  };
  const { files } = file;
  const inside = await orFault(async () => {
    await folder.checkInside(besideClip(files));
    return true;
  });
  if (!inside)
    return { recipe: null, recipeTag: null, record: null, row: undefined, outdated: false, faults };
  const stored = await orFault(() => readRecipeFile(files.recipe));
  const recipe = stored && (await orFault(async () => parseRecipe(stored.text, basename(files.recipe))));
  const record = await orFault(async () => {
    const text = await readIfThere(files.record);
    return text === null ? null : parseRecord(text, basename(files.record));
  });
  const table = await orFault(() => readSession(join(folder.root, SESSION_FILE)));
  const row = table?.find((r) => r.file === file.name);
  const outdated =
    recipe !== null &&
    record !== null &&
    !isDeepStrictEqual(withSession({ ...recipe, clip: record.recipe.clip }, row), record.recipe);
  return { recipe, recipeTag: stored?.tag ?? null, record, row, outdated, faults };
}
