/** A clip as a file on disk: opened with care, hashed, named for print, and handed to FFmpeg as nothing but itself. */
import { createHash } from 'node:crypto';
import { constants } from 'node:fs';
import { type FileHandle, open } from 'node:fs/promises';
import { resolve } from 'node:path';
import { AnalysisError } from '../errors.js';

/** Input options that let FFmpeg read this file and nothing else, as nothing but a movie. */
export function inputArguments(path: string): readonly string[] {
  return [
    '-protocol_whitelist',
    'file,pipe',
    '-format_whitelist',
    'mov,matroska',
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
        : null;
  if (wrong !== null) {
    await file.close();
    throw new AnalysisError('clip-unreadable', wrong);
  }
  return file;
}

/** SHA-256 of the whole file, lower-case hex. */
export async function hashFile(file: FileHandle, signal?: AbortSignal): Promise<string> {
  const hash = createHash('sha256');
  const piece = Buffer.alloc(1 << 20);
  for (let at = 0; ; ) {
    signal?.throwIfAborted();
    const { bytesRead } = await file.read(piece, 0, piece.length, at);
    if (bytesRead === 0) return hash.digest('hex');
    hash.update(piece.subarray(0, bytesRead));
    at += bytesRead;
  }
}

/** A name that is safe to print: no control or direction characters, at most 200 characters. */
export function printable(text: string): string {
  // biome-ignore lint/suspicious/noControlCharactersInRegex: they are what must go
  return text.replace(/[\u0000-\u001f\u007f-\u009f\u202a-\u202e\u2066-\u2069]/g, '?').slice(0, 200);
}
