import {
  chmodSync,
  copyFileSync,
  mkdtempSync,
  readdirSync,
  rmSync,
  utimesSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { ffmpegMark, findFfmpeg } from '../src/clip/ffmpeg.js';
import { openClip } from '../src/clip/openClip.js';
import { cachedFacts } from '../src/factsCache.js';
import type { SamplesCache } from '../src/samples/cacheEntries.js';
import { SPOILED } from './spoiledEntries.js';

const SAMPLE = fileURLToPath(new URL('../sample-clips/cedar-sprite.mp4', import.meta.url));

let folder: string;
let clip: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lagreel-facts-test-'));
  clip = join(folder, 'clip.mp4');
  copyFileSync(SAMPLE, clip);
});
afterEach(() => {
  vi.unstubAllEnvs();
  rmSync(folder, { recursive: true, force: true });
});

const cache = (): SamplesCache => ({ folder: join(folder, 'cache'), limitBytes: 1e9 });
const entries = () => readdirSync(join(folder, 'cache')).filter((name) => name.endsWith('.facts'));
/** Facts as FFmpeg and the file say them, kept. */
async function keptFacts() {
  const { facts } = await openClip(clip);
  await cachedFacts(cache()).keep(facts);
  return facts;
}

describe('facts that were kept', () => {
  it('are those that would be read, and nobody is asked for them', async () => {
    const facts = await keptFacts();
    const store = cachedFacts(cache());
    expect(await store.read(facts)).toEqual(facts);
    // Facts that no FFmpeg would give tell where they are from.
    const read: typeof store.read = async (asked) => {
      const kept = await store.read(asked);
      return kept && { ...kept, container: 'as it was kept' };
    };
    const source = await openClip(clip, undefined, facts, { ...store, read });
    expect(source.facts).toEqual({ ...facts, container: 'as it was kept' });
    await source.confirmed!();
    // What the file is taken for is not what it is: its facts are read.
    const other = { ...facts, bytes: facts.bytes + 1 };
    expect((await openClip(clip, undefined, other, { ...store, read })).facts).toEqual(facts);
  });

  it('are not those of another name, size or content', async () => {
    const facts = await keptFacts();
    const { read } = cachedFacts(cache());
    expect(await read({ ...facts, file: 'other.mp4' })).toBeNull();
    expect(await read({ ...facts, bytes: facts.bytes + 1 })).toBeNull();
    expect(
      await read({ ...facts, sha256: facts.sha256.replace(/^./, (c) => (c === '0' ? '1' : '0')) }),
    ).toBeNull();
    expect(await read(facts)).toEqual(facts);
  });

  it.each(SPOILED)('are read again where the entry is %s', async (_, spoil) => {
    const facts = await keptFacts();
    spoil(join(folder, 'cache', entries()[0]!));
    expect(await cachedFacts(cache()).read(facts)).toBeNull();
    expect(entries()).toEqual([]);
  });

  it('are those of the FFmpeg that would be asked: another file in its place is another one', async () => {
    const { path } = await findFfmpeg();
    const program = join(folder, 'ffmpeg');
    copyFileSync(path, program);
    chmodSync(program, 0o755);
    vi.stubEnv('LAGREEL_FFMPEG', program);
    const facts = await keptFacts();
    expect(await cachedFacts(cache()).read(facts)).toEqual(facts);
    utimesSync(program, new Date(0), new Date(0));
    expect(await cachedFacts(cache()).read(facts)).toBeNull();
    vi.stubEnv('LAGREEL_FFMPEG', path);
    expect(await cachedFacts(cache()).read(facts)).toBeNull();
  });

  it('are not kept for a script, behind which another program may stand tomorrow', async () => {
    const { path } = await findFfmpeg();
    const script = join(folder, 'ffmpeg');
    writeFileSync(script, `#!/bin/sh\nexec '${path}' "$@"\n`, { mode: 0o755 });
    vi.stubEnv('LAGREEL_FFMPEG', script);
    expect(await ffmpegMark()).toBeNull();
    const facts = await keptFacts();
    expect(facts.codedWidth).toBeGreaterThan(0);
    expect(await cachedFacts(cache()).read(facts)).toBeNull();
  });

  it('are not kept where the first program that is there does not run', async () => {
    copyFileSync(SAMPLE, join(folder, 'ffmpeg'));
    vi.stubEnv('LAGREEL_FFMPEG', '');
    vi.stubEnv('FFMPEG_PATH', '');
    vi.stubEnv('PATH', folder);
    const mark = await ffmpegMark();
    const facts = await keptFacts();
    // With the downloaded build at hand that one comes first, and runs.
    if (mark!.path === join(folder, 'ffmpeg')) {
      expect(await cachedFacts(cache()).read(facts)).toBeNull();
    } else {
      expect(await cachedFacts(cache()).read(facts)).toEqual(facts);
    }
  });
});
