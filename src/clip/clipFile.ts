/** A clip as a file on disk: opened with care, hashed, named for print, and handed to FFmpeg as nothing but itself. */
import { createHash } from 'node:crypto';
import { constants } from 'node:fs';
import { type FileHandle, open, stat } from 'node:fs/promises';
import { basename, resolve } from 'node:path';
import { AnalysisError } from '../errors.js';

/** Largest picture that is read, px: 4096 x 3072, the open gate of a 4K sensor. Larger ones are no high-speed film. */
export const MAX_PIXELS = 4096 * 3072;
/** More streams than any phone writes (up to seven, with its metadata tracks). */
const MAX_STREAMS = 32;
/** Largest single block of memory that FFmpeg may ask for; a 10-bit picture of the largest size takes 38 MB. */
const LARGEST_BLOCK_BYTES = 512 * 2 ** 20;
/** Hours of the largest recordings; a sparse file can claim any length and would be hashed for ever. */
const MAX_FILE_BYTES = 256 * 2 ** 30;

/**
 * Input options that let FFmpeg read this file and nothing else, as nothing but a movie: no other protocol, no
 * playlist or list of files, no name taken as an option or a pattern, bounded pictures and streams.
 */
export function inputArguments(path: string): readonly string[] {
  return [
    '-protocol_whitelist',
    'file',
    '-format_whitelist',
    'mov,matroska',
    '-max_pixels',
    String(MAX_PIXELS),
    '-max_streams',
    String(MAX_STREAMS),
    '-max_alloc',
    String(LARGEST_BLOCK_BYTES),
    '-i',
    `file:${resolve(path)}`,
  ];
}

/**
 * Opens a file that may be a clip.
 * @throws AnalysisError `clip-unreadable` where it is absent, no regular file, or empty.
 */
export async function openClipFile(path: string, name: string): Promise<FileHandle> {
  let file: FileHandle;
  try {
    // Non-blocking, because opening a named pipe would wait for ever.
    file = await open(path, constants.O_RDONLY | (constants.O_NONBLOCK ?? 0));
  } catch (cause) {
    const code = (cause as NodeJS.ErrnoException).code;
    const why =
      code === 'ENOENT' || code === 'ENOTDIR'
        ? `There is no file ${printable(path)}; check the path.`
        : code === 'EACCES' || code === 'EPERM'
          ? `${name} may not be read; check its permissions.`
          : code === 'EISDIR'
            ? `${name} is a folder; give a clip in it.`
            : `${name} cannot be opened (${code ?? 'unknown reason'}).`;
    throw new AnalysisError('clip-unreadable', why, { code }, cause);
  }
  const facts = await file.stat();
  const wrong = facts.isDirectory()
    ? `${name} is a folder; give a clip in it.`
    : !facts.isFile()
      ? `${name} is no regular file; give a clip that is stored on disk.`
      : facts.size === 0
        ? `${name} is empty (0 bytes); copy it again from the camera.`
        : facts.size > MAX_FILE_BYTES
          ? `${name} claims ${(facts.size / 2 ** 30).toFixed(0)} GiB, more than lagreel reads (${MAX_FILE_BYTES / 2 ** 30} GiB); cut it shorter.`
          : null;
  if (wrong !== null) {
    await file.close();
    throw new AnalysisError('clip-unreadable', wrong);
  }
  return file;
}

/** What tells that a file was written to or replaced: two states differ where it was. Empty where it is gone. */
export async function fileState(path: string): Promise<string> {
  try {
    const { dev, ino, size, mtimeMs } = await stat(path);
    return [dev, ino, size, mtimeMs].join(' ');
  } catch {
    return '';
  }
}

/**
 * Makes sure that a clip is still the one that was opened, so that no number comes from half of one file and half of
 * another.
 * @throws AnalysisError `clip-unreadable`
 */
export async function checkUnchanged(path: string, state: string, name: string): Promise<void> {
  if ((await fileState(path)) === state) return;
  throw new AnalysisError(
    'clip-unreadable',
    `${name} changed or went away while it was read; wait until it is copied as a whole, then try again.`,
  );
}

/** SHA-256 of the whole file, lower-case hex. */
export async function hashFile(file: FileHandle, signal?: AbortSignal): Promise<string> {
  const hash = createHash('sha256');
  // One piece is read while the other is worked on.
  const pieces = [Buffer.alloc(1 << 20), Buffer.alloc(1 << 20)] as const;
  let [here, next]: readonly Buffer[] = pieces;
  let reading = file.read(here!, 0, here!.length, 0);
  for (let at = 0; ; [here, next] = [next, here]) {
    const { bytesRead } = await reading;
    signal?.throwIfAborted();
    if (bytesRead === 0) return hash.digest('hex');
    at += bytesRead;
    reading = file.read(next!, 0, next!.length, at);
    hash.update(here!.subarray(0, bytesRead));
  }
}

/**
 * Name, checksum and size of a clip, as its facts have them, without asking FFmpeg.
 * @throws AnalysisError `clip-unreadable`; the signal's reason.
 */
export async function identifyClip(
  path: string,
  signal?: AbortSignal,
): Promise<{ readonly file: string; readonly sha256: string; readonly bytes: number }> {
  const name = printable(basename(path));
  const file = await openClipFile(path, name);
  try {
    return { file: name, sha256: await hashFile(file, signal), bytes: (await file.stat()).size };
  } finally {
    await file.close();
  }
}

/** A name that is safe to print: no control or direction characters, at most 200 characters. */
export function printable(text: string): string {
  // biome-ignore lint/suspicious/noControlCharactersInRegex: they are what must go
  return text.replace(/[\u0000-\u001f\u007f-\u009f\u202a-\u202e\u2066-\u2069]/g, '?').slice(0, 200);
}
