import { createHash } from 'node:crypto';
import {
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  truncateSync,
  utimesSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { FrameSource } from '../../src/clip/frameSource.js';
import { measureClip } from '../../src/measure.js';
import { partPath } from '../../src/partFiles.js';
import { toJsonText } from '../../src/record/files.js';
import {
  cacheContent,
  cachedSampleClip,
  cacheFolder,
  clearCache,
  type SamplesCache,
} from '../../src/samples/cache.js';
import { sampleClip } from '../../src/samples/sampleClip.js';
import {
  packSamples,
  SAMPLES_FORMAT,
  type SampledClip,
  unpackSamples,
} from '../../src/samples/storedSamples.js';
import { type FilmedScene, filmScene } from '../filmedScene.js';

let filmed: FilmedScene;
beforeAll(async () => {
  filmed = await filmScene(7, { display: ['panel'], content: ['flash'] });
});

let folder: string;
beforeEach(() => {
  folder = join(mkdtempSync(join(tmpdir(), 'lagreel-cache-test-')), 'samples');
});
afterEach(() => rmSync(join(folder, '..'), { recursive: true, force: true }));

const cache = (more: Partial<SamplesCache> = {}): SamplesCache => ({ folder, limitBytes: 1e9, ...more });
/** Every byte of samples and times; comparing the arrays number by number takes seconds. */
const bytesOf = (sampled: SampledClip) => createHash('sha256').update(packSamples(sampled)).digest('hex');
const entries = () => readdirSync(folder).filter((name) => name.endsWith('.samples'));

/** The filmed clip, counting how often its pictures are read; `sha256` makes it another clip. */
function counted(sha256 = 'a'.repeat(64)): { source: FrameSource; reads: () => number } {
  let reads = 0;
  const source: FrameSource = {
    ...filmed.source,
    facts: { ...filmed.facts, sha256 },
    readRects: (...args) => {
      reads++;
      return filmed.source.readRects(...args);
    },
  };
  return { source, reads: () => reads };
}

describe('measuring from the cache', () => {
  it('gives the same bytes as from decoding, whatever changed in the recipe since', async () => {
    const { source, reads } = counted();
    const sample = cachedSampleClip(cache());
    await measureClip(source, filmed.recipe, { sample });
    expect(reads()).toBe(1);
    const { recipe } = filmed;
    const pressAtS = filmed.scene.presses.leadInS;
    const recipes = [
      recipe,
      { ...recipe, response: { level: 0.5, windowMs: [20, 300] as const } },
      { ...recipe, capture: { ...recipe.capture, exposureFraction: null } },
      { ...recipe, decisions: [{ pressAtS, decision: 'exclude' as const, reason: 'two' }] },
      { ...recipe, regions: recipe.regions.map((r) => (r.role === 'screen' ? { ...r, name: 'high' } : r)) },
    ];
    for (const changed of recipes) {
      const decoded = await measureClip(counted().source, changed);
      const fromCache = await measureClip(source, changed, { sample });
      expect(toJsonText(fromCache.record)).toBe(toJsonText(decoded.record));
    }
    expect(reads()).toBe(1);
  });

  it('decodes anew for another region, clip, decoder or colour curve', async () => {
    const sample = cachedSampleClip(cache());
    const { source, reads } = counted();
    const [led, top] = filmed.recipe.regions;
    await sample(source, [led!, top!]);
    await sample(source, [led!, { ...top!, width: top!.width - 2 }]);
    expect(reads()).toBe(2);
    await sample({ ...source, facts: { ...source.facts, decoder: 'another' } }, [led!, top!]);
    await sample({ ...source, facts: { ...source.facts, transfer: 'linear' } }, [led!, top!]);
    expect(reads()).toBe(4);
    const other = counted('b'.repeat(64));
    await sample(other.source, [led!, top!]);
    expect(other.reads()).toBe(1);
    expect(await cacheContent(folder)).toMatchObject({ entries: 5 });
  });
});

describe('an entry that is not what it was', () => {
  it.each<[string, (path: string) => void]>([
    ['cut off', (path) => truncateSync(path, statSync(path).size - 9)],
    ['empty', (path) => truncateSync(path, 0)],
    [
      'one bit changed',
      (path) => {
        const bytes = readFileSync(path);
        bytes[bytes.length >> 1]! ^= 4;
        writeFileSync(path, bytes);
      },
    ],
    [
      'something else',
      (path) => writeFileSync(path, 'lagreel samples\nnot at all, but long enough to be one'),
    ],
  ])('is decoded again and replaced: %s', async (_, spoil) => {
    const { source, reads } = counted();
    const sample = cachedSampleClip(cache());
    const first = await sample(source, filmed.recipe.regions);
    spoil(join(folder, entries()[0]!));
    for (let again = 0; again < 2; again++) {
      expect(bytesOf(await sample(source, filmed.recipe.regions))).toBe(bytesOf(first));
      expect(reads()).toBe(2);
    }
  });

  it('a stopped pass leaves nothing', async () => {
    const controller = new AbortController();
    const source: FrameSource = {
      ...filmed.source,
      readRects: () => {
        controller.abort(new Error('stopped'));
        return Promise.reject(controller.signal.reason);
      },
    };
    const sample = cachedSampleClip(cache());
    const run = sample(source, filmed.recipe.regions, { signal: controller.signal });
    await expect(run).rejects.toThrow('stopped');
    expect(await cacheContent(folder)).toEqual({ entries: 0, bytes: 0 });
  });

  it('two at once end with one sound entry', async () => {
    const sample = cachedSampleClip(cache());
    const [a, b] = await Promise.all(
      [counted(), counted()].map(({ source }) => sample(source, filmed.recipe.regions)),
    );
    expect(bytesOf(a!)).toBe(bytesOf(b!));
    expect(readdirSync(folder)).toEqual(entries());
    expect(entries()).toHaveLength(1);
    const { source, reads } = counted();
    expect(bytesOf(await sample(source, filmed.recipe.regions))).toBe(bytesOf(a!));
    expect(reads()).toBe(0);
  });
});

describe('the size of the cache', () => {
  const sampleAs = (sample: typeof sampleClip, letter: string) =>
    sample(counted(letter.repeat(64)).source, filmed.recipe.regions);
  const readsOf = async (sample: typeof sampleClip, letter: string) => {
    const { source, reads } = counted(letter.repeat(64));
    await sample(source, filmed.recipe.regions);
    return reads();
  };
  /** Makes every entry older by a minute; time stamps of one test lie too close together otherwise. */
  const age = () => {
    for (const name of readdirSync(folder)) {
      const at = statSync(join(folder, name)).mtimeMs / 1000 - 60;
      utimesSync(join(folder, name), at, at);
    }
  };

  it('stays below its limit; what was used longest ago goes first', async () => {
    const free = cachedSampleClip(cache());
    await sampleAs(free, 'a');
    const { bytes } = await cacheContent(folder);
    age();
    const tight = cachedSampleClip(cache({ limitBytes: 2.5 * bytes }));
    await sampleAs(tight, 'b');
    age();
    // Used again, so that `b` is the oldest now.
    expect(await readsOf(tight, 'a')).toBe(0);
    age();
    await sampleAs(tight, 'c');
    expect((await cacheContent(folder)).bytes).toBeLessThanOrEqual(2.5 * bytes);
    age();
    expect(await readsOf(tight, 'a')).toBe(0);
    expect(await readsOf(tight, 'c')).toBe(0);
    expect(await readsOf(tight, 'b')).toBe(1);
  });

  it('keeps nothing that is larger than the limit', async () => {
    expect(await readsOf(cachedSampleClip(cache({ limitBytes: 100 })), 'a')).toBe(1);
    expect(await cacheContent(folder)).toEqual({ entries: 0, bytes: 0 });
  });

  it('clears its own files only, and what a killed process left behind', async () => {
    const sample = cachedSampleClip(cache());
    await sampleAs(sample, 'a');
    // One of this process, which lives, and one of a process that cannot be.
    const own = partPath(join(folder, 'd'));
    writeFileSync(own, 'half');
    writeFileSync(own.replace(`-${process.pid}-`, '-4000000-'), 'half');
    writeFileSync(join(folder, 'notes.txt'), 'mine');
    await sampleAs(sample, 'b');
    expect(readdirSync(folder).filter((name) => name.endsWith('.part'))).toEqual([basename(own)]);
    const content = await cacheContent(folder);
    expect(content.entries).toBe(2);
    expect(await clearCache(folder)).toEqual(content);
    expect(readdirSync(folder)).toEqual(['notes.txt']);
    expect(await clearCache(folder)).toEqual({ entries: 0, bytes: 0 });
  });

  it('measures all the same where nothing can be written, and says so', async () => {
    const file = join(folder, '..', 'in-the-way');
    writeFileSync(file, '');
    const said: string[] = [];
    const sample = cachedSampleClip(cache({ folder: join(file, 'samples'), onTrouble: (s) => said.push(s) }));
    expect(bytesOf(await sample(counted().source, filmed.recipe.regions))).toBe(bytesOf(filmed));
    expect(said).toEqual([expect.stringMatching(/could not be kept in .*in-the-way.*ENOTDIR/)]);
  });
});

describe('cacheFolder', () => {
  it.each([
    [{ XDG_CACHE_HOME: '/caches' }, 'linux', /^\/caches\/lagreel\/samples$/],
    [{ XDG_CACHE_HOME: 'relative' }, 'linux', /\/\.cache\/lagreel\/samples$/],
    [{}, 'linux', /\/\.cache\/lagreel\/samples$/],
    [{}, 'darwin', /Library\/Caches\/lagreel\/samples$/],
  ])('with %j on %s', (env, platform, expected) => {
    expect(cacheFolder(env, platform)).toMatch(expected);
  });
});

describe('the stored form', () => {
  it('gives back every number, and refuses what does not fit', () => {
    const { samples, times, recipe } = filmed;
    const bytes = packSamples({ samples, times });
    const back = unpackSamples(bytes, recipe.regions)!;
    expect(bytesOf(back)).toBe(bytesOf({ samples, times }));
    expect(back.samples.regions.map((r) => r.region)).toEqual(recipe.regions);
    back.samples.regions.forEach((r, i) => {
      expect(
        Buffer.compare(
          Buffer.from(r.light.buffer),
          Buffer.from(Uint16Array.from(samples.regions[i]!.light).buffer),
        ),
      ).toBe(0);
    });
    // Anywhere in a larger buffer, as a file read with its checksum in front.
    const shifted = new Uint8Array(bytes.length + 11);
    shifted.set(bytes, 11);
    expect(bytesOf(unpackSamples(shifted.subarray(11), recipe.regions)!)).toBe(bytesOf(back));
    expect(unpackSamples(bytes.subarray(0, bytes.length - 8), recipe.regions)).toBeNull();
    expect(unpackSamples(bytes, recipe.regions.slice(1))).toBeNull();
    expect(unpackSamples(bytes.subarray(0, 6), recipe.regions)).toBeNull();
  });

  // Not a number that is right or wrong: only whether sampling or its stored form changed. If this fails, raise
  // SAMPLES_FORMAT and put the new fingerprint here, or old caches would answer for the new code.
  it('changes only with SAMPLES_FORMAT', async () => {
    const width = 48;
    const height = 40;
    const facts = { ...filmed.facts, codedWidth: width, codedHeight: height, bitDepth: 8, declaredFrames: 4 };
    const upright = { rotationDeg: 90, mirrored: true } as const;
    const source: FrameSource = {
      ...filmed.source,
      facts: { ...facts, orientation: upright, range: 'limited', transfer: 'bt709', timeBase: [1, 600] },
      readRects: async (rects, onFrame) => {
        for (let frame = 0; frame < 4; frame++) {
          const planes = rects.map((r) =>
            Uint8Array.from({ length: r.width * r.height }, (_, i) => (i * 31 + r.x * 7 + frame * 53) % 240),
          );
          onFrame(frame, planes);
        }
        const ptsTicks = Float64Array.of(0, 3, 5, 8);
        return { ptsTicks, timeBase: [1, 600], stoppedEarly: false, damagedFrames: 1 };
      },
    };
    const regions = [
      { name: 'led', role: 'led' as const, x: 2, y: 3, width: 6, height: 5 },
      { name: 'top', role: 'screen' as const, x: 0, y: 0, width: 40, height: 48 },
    ];
    const bytes = packSamples(await sampleClip(source, regions));
    const fingerprint = createHash('sha256').update(bytes).digest('hex').slice(0, 16);
    expect([SAMPLES_FORMAT, fingerprint]).toEqual([1, '95ac77c28256213b']);
  });
});
