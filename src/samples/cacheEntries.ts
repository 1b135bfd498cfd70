/**
 * The user's cache folder: blocks of bytes, each in a file of its own that is named by everything that its content depends
 * on, written whole and then renamed, and checked by its own checksum when read; so neither a killed process nor two at
 * once can leave a wrong one.
 */
import { createHash } from 'node:crypto';
import { mkdir, open, readdir, readFile, rename, stat, unlink } from 'node:fs/promises';
import { homedir } from 'node:os';
import { extname, isAbsolute, join } from 'node:path';
import { deserialize, serialize } from 'node:v8';
import { isPartName, partPath, removeLeftovers } from '../partFiles.js';

/** Where something is kept, and how much. */
export interface SamplesCache {
  /** Made when something is written into it. */
  readonly folder: string;
  /** Bytes of all entries together; the ones used longest ago go first. */
  readonly limitBytes: number;
  /** Told in one sentence where nothing could be kept; the measurement goes on. */
  readonly onTrouble?: (sentence: string) => void;
  /** Takes over the writing of an entry, to see to it when there is time; left out: it is waited for. */
  readonly later?: (write: () => Promise<void>) => void;
}

/** What a cache holds. */
export interface CacheContent {
  readonly entries: number;
  readonly bytes: number;
}

/** Two gigabytes: some hundreds of clips. */
export const DEFAULT_CACHE_BYTES = 2 * 1024 ** 3;

/** What an entry holds: a region's light, what a clip's light says, a clip's overview picture, or its facts. */
export type EntryKind = 'samples' | 'findings' | 'picture' | 'facts';

/** What is lost where an entry cannot be kept, and what that costs. */
const LOST: Readonly<Record<EntryKind, readonly [what: string, then: string]>> = {
  samples: ['the samples', 'decodes again'],
  findings: ['what was found', 'looks for it again'],
  picture: ['the overview picture', 'draws it again'],
  facts: ['the facts of the clip', 'reads them again'],
};

const ENTRY = /^[0-9a-f]{64}\.(?:samples|findings|picture|facts)$/;
/** First bytes of every entry, of any kind; the SHA-256 of the rest follows. */
const MAGIC = Buffer.from('lagreel samples\n');
const CHECKSUM_BYTES = 32;
const BEGIN = MAGIC.length + CHECKSUM_BYTES;

/**
 * The cache folder: `lagreel/samples` in `XDG_CACHE_HOME` where that is an absolute path, else where the system keeps
 * caches of a user.
 */
export function cacheFolder(env: Readonly<Record<string, string | undefined>>, platform: string): string {
  const named = env.XDG_CACHE_HOME;
  if (named !== undefined && isAbsolute(named)) return join(named, 'lagreel', 'samples');
  const home = homedir();
  if (platform === 'darwin') return join(home, 'Library', 'Caches', 'lagreel', 'samples');
  if (platform === 'win32') {
    return join(env.LOCALAPPDATA ?? join(home, 'AppData', 'Local'), 'lagreel', 'Cache', 'samples');
  }
  return join(home, '.cache', 'lagreel', 'samples');
}

/** The file of an entry. */
export function entryPath({ folder }: SamplesCache, kind: EntryKind, name: readonly unknown[]): string {
  return join(folder, `${createHash('sha256').update(JSON.stringify(name)).digest('hex')}.${kind}`);
}

/**
 * Reads an entry; one that is not sound is taken away.
 * @param unpack gives null where the content does not fit.
 */
export async function readEntry<T>(
  path: string,
  unpack: (content: Uint8Array) => T | null,
): Promise<T | null> {
  let bytes: Buffer;
  try {
    bytes = await readFile(path);
  } catch {
    return null;
  }
  const content = bytes.subarray(BEGIN);
  const sound =
    bytes.length > BEGIN &&
    bytes.subarray(0, MAGIC.length).equals(MAGIC) &&
    bytes.subarray(MAGIC.length, BEGIN).equals(checksum(content));
  const kept = sound ? unpack(content) : null;
  if (!kept) await unlink(path).catch(() => undefined);
  else await markUsed(path);
  return kept;
}

/** Reads an entry of plain data, see `keepData`. */
export function readData<T>(path: string): Promise<T | null> {
  return readEntry(path, (content) => {
    try {
      return deserialize(content) as T;
    } catch {
      return null;
    }
  });
}

/** Writes an entry of plain data, which another version of the engine may read otherwise: its version belongs into the name. */
export function keepData(cache: SamplesCache, path: string, data: unknown): Promise<void> {
  return keepEntry(cache, path, () => serialize(data));
}

/** Writes one byte over itself, so that the file system's own clock tells which entries were used last. */
async function markUsed(path: string): Promise<void> {
  try {
    const file = await open(path, 'r+');
    await file.write(MAGIC, 0, 1, 0).finally(() => file.close());
  } catch {
    // A cache that may only be read is good enough; it then counts as used when it was written.
  }
}

/**
 * Writes an entry; where that fails it is told, and nothing is left behind.
 * @param pack makes its content, when it is written.
 */
export async function keepEntry(cache: SamplesCache, path: string, pack: () => Uint8Array): Promise<void> {
  const write = () => writeEntry(cache, path, pack());
  if (cache.later) cache.later(write);
  else await write();
}

async function writeEntry(cache: SamplesCache, path: string, content: Uint8Array): Promise<void> {
  const bytes = BEGIN + content.length;
  if (bytes > cache.limitBytes) return;
  const part = partPath(path);
  try {
    await mkdir(cache.folder, { recursive: true, mode: 0o700 });
    const file = await open(part, 'wx', 0o600);
    try {
      // Not `writev`, which on a full disk writes a part and says nothing.
      for (const piece of [MAGIC, checksum(content), content]) await file.writeFile(piece);
    } finally {
      await file.close();
    }
    await rename(part, path);
    await makeRoom(cache, path);
  } catch (cause) {
    await unlink(part).catch(() => undefined);
    const code = (cause as NodeJS.ErrnoException).code ?? String(cause);
    const [what, then] = LOST[extname(path).slice(1) as EntryKind];
    cache.onTrouble?.(`${what} could not be kept in ${cache.folder} (${code}); the next run ${then}`);
  }
}

/** Takes the entries that were used longest ago, until the rest fits; the newest one stays. */
async function makeRoom(cache: SamplesCache, newest: string): Promise<void> {
  await removeLeftovers(cache.folder);
  const files = await filesOf(cache.folder);
  const entries = files.filter((f) => !f.isPart && f.path !== newest).sort((a, b) => a.usedMs - b.usedMs);
  let total = (await stat(newest)).size + entries.reduce((sum, e) => sum + e.bytes, 0);
  for (const { path, bytes } of entries) {
    if (total <= cache.limitBytes) return;
    // Another process may have taken it first; then it is gone all the same.
    await unlink(path).catch(() => undefined);
    total -= bytes;
  }
}

/** What the cache holds now. */
export async function cacheContent(folder: string): Promise<CacheContent> {
  const entries = (await filesOf(folder)).filter((f) => !f.isPart);
  return { entries: entries.length, bytes: entries.reduce((sum, e) => sum + e.bytes, 0) };
}

/** Empties the cache; files that are not its own stay. Returns what was taken. */
export async function clearCache(folder: string): Promise<CacheContent> {
  const files = await filesOf(folder);
  for (const { path } of files) await unlink(path).catch(() => undefined);
  const entries = files.filter((f) => !f.isPart);
  return { entries: entries.length, bytes: entries.reduce((sum, e) => sum + e.bytes, 0) };
}

interface CacheFile {
  readonly path: string;
  readonly isPart: boolean;
  readonly bytes: number;
  readonly usedMs: number;
}

async function filesOf(folder: string): Promise<CacheFile[]> {
  const names = await readdir(folder).catch(() => []);
  const own = names.filter((name) => ENTRY.test(name) || isPartName(name));
  const files = await Promise.all(
    own.map(async (name) => {
      const path = join(folder, name);
      const facts = await stat(path).catch(() => null);
      return facts ? [{ path, isPart: isPartName(name), bytes: facts.size, usedMs: facts.mtimeMs }] : [];
    }),
  );
  return files.flat();
}

function checksum(content: Uint8Array): Buffer {
  return createHash('sha256').update(content).digest();
}
