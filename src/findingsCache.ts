/**
 * What the light of clips was found to say, in the user's cache folder: a changed decision, level, window or label needs neither
 * samples nor fits. An entry is named by all that goes in: the clip and how it is read, what of the recipe bears on its
 * changes, a camera file, and lagreel's own code, so that another version never meets it.
 */
import { createHash } from 'node:crypto';
import { readdir, readFile } from 'node:fs/promises';
import { endianness } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { FindingsStore, LightFindings } from './clipFindings.js';
import { packageFolder } from './packageFolder.js';
import { entryPath, keepData, readData, type SamplesCache } from './samples/cacheEntries.js';

/** The cache as a place for findings. */
export function cachedFindings(
  cache: SamplesCache,
  ownCode: () => Promise<string> = codeMark,
): FindingsStore {
  // Worked out while the clip is opened; whoever needs it hears of a failure.
  ownCode().catch(() => undefined);
  const pathOf = async ({ facts, recipe, camera, readoutShown }: Parameters<FindingsStore['read']>[0]) =>
    entryPath(cache, 'findings', [
      // The engine: what it makes of sines and logarithms may differ, and so may its form of plain data.
      ...[await ownCode(), process.version, process.arch, endianness()],
      ...[facts, recipe, camera ?? null, readoutShown ?? null],
    ]);
  return {
    read: async (question) => readData<LightFindings>(await pathOf(question)),
    keep: async (question, findings) => keepData(cache, await pathOf(question), findings),
  };
}

let mark: Promise<string> | undefined;

/** SHA-256 of the program that runs: of its code, and of the versions of the packages that it leans on. */
export function codeMark(): Promise<string> {
  mark ??= markOf(fileURLToPath(new URL('./', import.meta.url)));
  return mark;
}

async function markOf(folder: string): Promise<string> {
  const names = (await readdir(folder, { recursive: true })).filter((name) => /\.[jt]s$/.test(name)).sort();
  const hash = createHash('sha256').update(await readFile(new URL('package.json', packageFolder)));
  const texts = await Promise.all(names.map((name) => readFile(join(folder, name))));
  texts.forEach((text, i) => {
    hash.update(`${names[i]} ${text.length}\n`).update(text);
  });
  return hash.digest('hex');
}
