/** The files beside a clip: their names, and writing them so that nothing half-written ever stands there. */
import { open, readFile, rename, stat, unlink } from 'node:fs/promises';
import { basename, dirname, join, resolve } from 'node:path';
import { AnalysisError, UsageError } from '../errors.js';
import { partPath } from '../partFiles.js';
import { reasonOf } from './writableFolder.js';

/** Paths of everything that belongs to one clip. */
export interface ClipFiles {
  readonly recipe: string;
  readonly record: string;
  readonly csv: string;
  readonly report: string;
  /** Overview picture with the regions drawn in. */
  readonly regions: string;
  /** Folder of the records that were replaced. */
  readonly history: string;
}

/** Paths beside a clip, or in `outFolder`. */
export function clipFiles(clipPath: string, outFolder?: string): ClipFiles {
  const name = basename(clipPath).replace(/\.[^.]+$/, '') || basename(clipPath);
  const at = (suffix: string) => join(outFolder ?? dirname(clipPath), `${name}${suffix}`);
  return {
    recipe: at('.recipe.json'),
    record: at('.record.json'),
    csv: at('.presses.csv'),
    report: at('.report.html'),
    regions: at('.regions.jpg'),
    history: at('.history'),
  };
}

/**
 * Makes sure that no two clips would write the same files (the same clip twice, `a.mp4` beside `a.mov`, or clips of the
 * same name from several folders sent to one).
 * @throws UsageError naming both.
 */
export function checkDistinct(clipPaths: readonly string[], outFolder?: string): void {
  const owners = new Map<string, string>();
  for (const clip of clipPaths) {
    const { record } = clipFiles(clip, outFolder);
    const owner = owners.get(resolve(record));
    if (owner !== undefined) {
      throw new UsageError(
        `${owner} and ${clip} would both write ${record}: measure them one by one with an --out FOLDER each, or rename one`,
      );
    }
    owners.set(resolve(record), clip);
  }
}

/** Writes a file as a whole or not at all: into a temporary neighbour, flushed, then renamed. */
export async function writeWhole(path: string, content: string | Uint8Array): Promise<void> {
  const temporary = partPath(path);
  try {
    const handle = await open(temporary, 'wx');
    try {
      await handle.writeFile(content);
      await handle.sync();
    } finally {
      await handle.close();
    }
    await rename(temporary, path);
  } catch (cause) {
    await unlink(temporary).catch(() => undefined);
    throw new AnalysisError(
      'write-failed',
      `cannot write ${path} (${reasonOf(cause)}): free some space, or choose another folder`,
      { path },
      cause,
    );
  }
}

/** Larger than any recipe or record that lagreel writes. */
const TEXT_LIMIT_BYTES = 64 * 1024 * 1024;

/**
 * Text of a file, or null where there is none.
 * @throws AnalysisError `recipe-invalid` where it is no file, too large, or may not be read.
 */
export async function readIfThere(path: string): Promise<string | null> {
  try {
    const facts = await stat(path);
    if (!facts.isFile() || facts.size > TEXT_LIMIT_BYTES) {
      const why = facts.isDirectory() ? 'a folder' : facts.isFile() ? 'far too large' : 'no regular file';
      throw new AnalysisError('recipe-invalid', `${path} is ${why}: give a recipe file, NAME.recipe.json`, {
        path,
      });
    }
    return await readFile(path, 'utf8');
  } catch (cause) {
    const { code } = cause as NodeJS.ErrnoException;
    if (code === 'ENOENT' || code === 'ENOTDIR') return null;
    if (cause instanceof AnalysisError) throw cause;
    throw new AnalysisError(
      'recipe-invalid',
      `cannot read ${path} (${reasonOf(cause)}): check its permissions`,
      { path },
      cause,
    );
  }
}

/** What JSON lets through although a terminal obeys it or an editor hides it: DEL, C1, zero-width and bidi controls. */
const UNSEEN = /[\u007f-\u009f\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff]/g;

/**
 * JSON as it stands in a folder: two spaces, one line end at the end. Keys keep the order of the contract. Characters
 * that would act on a terminal or hide are written as escapes, which mean the same.
 */
export function toJsonText(value: unknown): string {
  const text = JSON.stringify(value, null, 2).replace(
    UNSEEN,
    (character) => `\\u${character.charCodeAt(0).toString(16).padStart(4, '0')}`,
  );
  return `${text}\n`;
}
