/** The files beside a clip: their names, and writing them so that nothing half-written ever stands there. */
import { randomBytes } from 'node:crypto';
import { access, constants, mkdir, open, readFile, rename, stat, unlink } from 'node:fs/promises';
import { basename, dirname, join, resolve } from 'node:path';
import { AnalysisError } from '../errors.js';

/** Paths of everything that belongs to one clip. */
export interface ClipFiles {
  readonly recipe: string;
  readonly record: string;
  readonly csv: string;
  readonly report: string;
  /** Overview picture with the regions drawn in. */
  readonly regions: string;
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
  };
}

/**
 * Makes sure that results can be written, before any work is done.
 * @throws AnalysisError `write-failed` naming the folder and the option that moves the results elsewhere.
 */
export async function checkWritable(folder: string): Promise<void> {
  try {
    await makeFolder(resolve(folder));
    await access(folder, constants.W_OK);
    // Root may pass `access` on a read-only file system, so a file is tried as well.
    const probe = join(folder, `.lagreel-${randomBytes(6).toString('hex')}`);
    const handle = await open(probe, 'wx');
    await handle.close();
    await unlink(probe);
  } catch (cause) {
    throw new AnalysisError(
      'write-failed',
      `cannot write into ${folder}: choose another folder with --out FOLDER`,
      { folder },
      cause,
    );
  }
}

/**
 * Makes a folder and what is missing above it. Node's own recursive mkdir never ends where a file system refuses with
 * "no such file" (Linux /proc), so the levels are made one by one.
 */
async function makeFolder(folder: string): Promise<void> {
  try {
    if ((await stat(folder)).isDirectory()) return;
    throw new Error(`${folder} is not a folder`);
  } catch (cause) {
    const parent = dirname(folder);
    if ((cause as NodeJS.ErrnoException).code !== 'ENOENT' || parent === folder) throw cause;
    await makeFolder(parent);
    await mkdir(folder).catch((error: NodeJS.ErrnoException) => {
      if (error.code !== 'EEXIST') throw error;
    });
  }
}

/** Writes a file as a whole or not at all: into a temporary neighbour, flushed, then renamed. */
export async function writeWhole(path: string, content: string | Uint8Array): Promise<void> {
  const temporary = join(dirname(path), `.${basename(path)}.${randomBytes(6).toString('hex')}.part`);
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
      `cannot write ${path}: ${cause instanceof Error ? cause.message : String(cause)}`,
      { path },
      cause,
    );
  }
}

/** Text of a file, or null where there is none. */
export async function readIfThere(path: string): Promise<string | null> {
  try {
    if ((await stat(path)).size > 64 * 1024 * 1024) {
      throw new AnalysisError('recipe-invalid', `${path} is too large to be a recipe or record`);
    }
    return await readFile(path, 'utf8');
  } catch (cause) {
    if ((cause as NodeJS.ErrnoException).code === 'ENOENT') return null;
    if (cause instanceof AnalysisError) throw cause;
    throw new AnalysisError('recipe-invalid', `cannot read ${path}: ${String(cause)}`, { path }, cause);
  }
}

/** JSON as it stands in a folder: two spaces, one line end at the end. Keys keep the order of the contract. */
export function toJsonText(value: unknown): string {
  return `${JSON.stringify(value, null, 2)}\n`;
}
