/** The clips of a folder. */
import { readdir, stat } from 'node:fs/promises';
import { join } from 'node:path';
import { AnalysisError } from '../errors.js';

/** Endings of the containers that are read (QuickTime family, Matroska). */
const CLIP_NAME = /\.(mp4|mov|m4v|3gp|3g2|mkv|webm)$/i;

/** True for a folder; false for a file or nothing. */
export async function isFolder(path: string): Promise<boolean> {
  try {
    return (await stat(path)).isDirectory();
  } catch {
    return false;
  }
}

/**
 * Paths of the files in a folder (not in folders within it) that a test of their names lets through, in the order of
 * their names, the same on every machine. Hidden files are left out.
 * @throws AnalysisError `clip-unreadable` where the folder cannot be read
 */
export async function filesIn(folder: string, wanted: (name: string) => boolean): Promise<string[]> {
  let names: string[];
  try {
    names = await readdir(folder);
  } catch (cause) {
    throw new AnalysisError(
      'clip-unreadable',
      `the folder ${folder} cannot be read: check the path and its permissions`,
      { folder },
      cause,
    );
  }
  return names
    .filter((name) => !name.startsWith('.') && wanted(name))
    .sort((a, b) => (a < b ? -1 : 1))
    .map((name) => join(folder, name));
}

/**
 * Paths of the clips in a folder, known by their names.
 * @throws AnalysisError `clip-unreadable` where the folder cannot be read or holds no clip
 */
export async function clipsIn(folder: string): Promise<string[]> {
  const clips = await clipsIfAny(folder);
  if (clips.length > 0) return clips;
  throw new AnalysisError(
    'clip-unreadable',
    `there is no clip in the folder ${folder}: give a folder with the camera's own files (mp4, mov, m4v, 3gp, mkv, webm)`,
    { folder },
  );
}

/**
 * The same of a folder that may hold none (yet).
 * @throws AnalysisError `clip-unreadable` where the folder cannot be read
 */
export function clipsIfAny(folder: string): Promise<string[]> {
  return filesIn(folder, (name) => CLIP_NAME.test(name));
}
