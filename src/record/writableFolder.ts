/** A folder for results: made where it is missing, proven to be writable before any work, and not left behind empty. */
import { mkdir, open, rmdir, stat, unlink } from 'node:fs/promises';
import { dirname, join, resolve } from 'node:path';
import { AnalysisError } from '../errors.js';
import { partPath } from '../partFiles.js';

/**
 * Runs a job that writes into a folder. Missing folders are made first, and taken away again where the job fails and
 * left them empty.
 * @param remedy what to do where the folder cannot be written, for example `choose another folder with --out FOLDER`.
 * @throws AnalysisError `write-failed` before the job begins; whatever the job throws.
 */
export async function inWritableFolder<T>(folder: string, remedy: string, job: () => Promise<T>): Promise<T> {
  const made: string[] = [];
  try {
    try {
      await makeFolder(resolve(folder), made);
      await tryAFile(folder);
    } catch (cause) {
      throw new AnalysisError(
        'write-failed',
        `cannot write into the folder ${folder} (${reasonOf(cause)}): ${remedy}`,
        { folder },
        cause,
      );
    }
    return await job();
  } catch (error) {
    for (const path of made.reverse()) await rmdir(path).catch(() => undefined);
    throw error;
  }
}

/** Folders are made one by one, since Node's recursive `mkdir` never returns where the kernel refuses (as in /proc). */
async function makeFolder(folder: string, made: string[]): Promise<void> {
  const missing: string[] = [];
  for (let at = folder; !(await isThere(at)); at = dirname(at)) missing.unshift(at);
  for (const path of missing) {
    try {
      await mkdir(path);
      made.push(path);
    } catch (cause) {
      // Somebody else may have made it meanwhile; then it is not ours to take away.
      if ((cause as NodeJS.ErrnoException).code !== 'EEXIST') throw cause;
    }
  }
}

async function isThere(path: string): Promise<boolean> {
  try {
    await stat(path);
    return true;
  } catch (cause) {
    if ((cause as NodeJS.ErrnoException).code === 'ENOENT') return false;
    throw cause;
  }
}

/** Permissions alone do not tell: root passes them even on a read-only file system. */
async function tryAFile(folder: string): Promise<void> {
  const probe = partPath(join(folder, 'probe'));
  const handle = await open(probe, 'wx');
  await handle.close();
  await unlink(probe);
}

/** Why a file operation failed, in a few words for people. */
export function reasonOf(cause: unknown): string {
  const code = (cause as NodeJS.ErrnoException | null)?.code;
  const known: Readonly<Record<string, string>> = {
    EACCES: 'no permission',
    EPERM: 'no permission',
    EROFS: 'it is read-only',
    ENOTDIR: 'a part of the path is a file, not a folder',
    EISDIR: 'it is a folder',
    ENOENT: 'the system refuses it there',
    ENOSPC: 'the disk is full',
    EDQUOT: 'the disk is full',
    EFBIG: 'the system allows no file of that size',
    ENAMETOOLONG: 'the name is too long',
  };
  return known[code ?? ''] ?? code ?? String(cause);
}
