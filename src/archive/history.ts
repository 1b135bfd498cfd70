/** Records that were replaced: kept beside the clip, so that a number once quoted can always be found again. */
import { createHash } from 'node:crypto';
import { mkdir, readdir } from 'node:fs/promises';
import { join } from 'node:path';
import { type ClipFiles, readIfThere, writeWhole } from '../record/files.js';

const KEPT_NAME = /^(\d+)-([0-9a-f]{12})\.record\.json$/;

/**
 * Keeps the record that is about to be replaced, byte for byte, as `NAME.history/NUMBER-HASH.record.json`; the numbers
 * count up. The same record is kept once, so that a run that was stopped in between loses nothing and doubles nothing.
 * @param newText the text that takes its place; an equal record needs no keeping.
 * @returns the path of the kept record; null where there was nothing to keep.
 */
export async function keepInHistory(files: ClipFiles, newText: string): Promise<string | null> {
  const oldText = await readIfThere(files.record);
  if (oldText === null || oldText === newText) return null;
  await mkdir(files.history, { recursive: true });
  const hash = createHash('sha256').update(oldText).digest('hex').slice(0, 12);
  const kept = (await readdir(files.history)).flatMap((name) => {
    const match = KEPT_NAME.exec(name);
    return match ? [{ name, number: Number(match[1]), hash: match[2] }] : [];
  });
  const already = kept.find((k) => k.hash === hash);
  if (already) return join(files.history, already.name);
  const number = Math.max(0, ...kept.map((k) => k.number)) + 1;
  const path = join(files.history, `${String(number).padStart(3, '0')}-${hash}.record.json`);
  await writeWhole(path, oldText);
  return path;
}
