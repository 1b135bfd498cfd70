/** The recipe file of a clip: read with a tag, written only by whoever knows what stands there. */
import { createHash, randomBytes } from 'node:crypto';
import { link, readFile, stat, unlink, writeFile } from 'node:fs/promises';
import { basename, dirname, join } from 'node:path';
import { readIfThere, toJsonText, writeWhole } from '../../record/files.js';
import { parseRecipe } from '../../record/parseRecipe.js';
import type { Recipe } from '../../record/recipe.js';
import { Refusal } from './refusal.js';

/** A recipe as it stands on disk. */
export interface StoredRecipe {
  readonly text: string;
  /** SHA-256 of its bytes, hex. */
  readonly tag: string;
}

/** A lock that is older than this was left by a process that ended. */
const LEFT_BEHIND_MS = 10_000;
const TRY_AGAIN_MS = 20;
const TRIES = 150;

/** The file and its tag; null where there is none. */
export async function readRecipeFile(path: string): Promise<StoredRecipe | null> {
  const text = await readIfThere(path);
  return text === null ? null : { text, tag: tagOf(text) };
}

/** The tag of a text. */
export function tagOf(text: string): string {
  return createHash('sha256').update(text).digest('hex');
}

/** A recipe that came in a request, checked as one from a file. Throws AnalysisError `recipe-invalid`. */
export function askedRecipe(recipe: unknown): Recipe {
  return parseRecipe(JSON.stringify(recipe ?? null), 'the recipe');
}

/**
 * Writes the recipe, whole or not at all, if the file is still the one that the writer knows. Two desks on one folder
 * take turns by a lock beside the file.
 * @returns the new tag.
 * @throws Refusal 409 where the file is another one by now.
 */
export async function saveRecipeFile(path: string, recipe: Recipe, ifTag: string | null): Promise<string> {
  const text = toJsonText(recipe);
  return locked(path, async () => {
    const stored = await readRecipeFile(path);
    const tag = stored?.tag ?? null;
    // What is wanted stands there already, for example after an answer that got lost.
    if (stored?.text === text) return tagOf(text);
    if (tag !== ifTag) {
      throw new Refusal(
        409,
        `${basename(path)} was changed meanwhile by somebody else: load it again before you go on.`,
        {
          recipeTag: tag,
        },
      );
    }
    await writeWhole(path, text);
    return tagOf(text);
  });
}

async function locked<T>(path: string, job: () => Promise<T>): Promise<T> {
  const lock = join(dirname(path), `.${basename(path)}.lock`);
  const own = `${lock}.${randomBytes(6).toString('hex')}`;
  await writeFile(own, own, { flag: 'wx' });
  try {
    for (let n = 0; !(await taken(own, lock)); n++) {
      if (n >= TRIES)
        throw new Refusal(503, `${basename(path)} is being written by another desk: try again.`);
      await new Promise((resolve) => setTimeout(resolve, TRY_AGAIN_MS));
    }
    try {
      return await job();
    } finally {
      if ((await readFile(lock, 'utf8').catch(() => '')) === own) await unlink(lock).catch(() => undefined);
    }
  } finally {
    await unlink(own).catch(() => undefined);
  }
}

/** A link to a file of one's own can be made by one only. */
async function taken(own: string, lock: string): Promise<boolean> {
  try {
    await link(own, lock);
    return true;
  } catch (cause) {
    if ((cause as NodeJS.ErrnoException).code !== 'EEXIST') throw cause;
    const facts = await stat(lock).catch(() => null);
    if (facts && Date.now() - facts.mtimeMs > LEFT_BEHIND_MS) await unlink(lock).catch(() => undefined);
    return false;
  }
}
