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
import { cachedSampleClip } from '../../src/samples/cache.js';
import { cacheContent, cacheFolder, clearCache, type SamplesCache } from '../../src/samples/cacheEntries.js';
import { sampleClip, sampleRegions } from '../../src/samples/sampleClip.js';
import { packRegion, SAMPLES_FORMAT, unpackRegion } from '../../src/samples/storedSamples.js';
import { type FilmedScene, filmScene } from '../filmedScene.js';
import { SPOILED } from '../spoiledEntries.js';

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
const bytesOf = ({ samples, times }: Awaited<ReturnType<typeof sampleClip>>) => {
  const hash = createHash('sha256');
  const { frames, frameChange, regions } = samples;
  hash.update(
    JSON.stringify([frames, regions.map((r) => [r.region, r.columns, r.rows, r.cellPx]), times.timeBase]),
  );
  hash.update(JSON.stringify([times.damagedFrames, times.stoppedEarly]));
  const arrays = regions.flatMap((r) => [r.light, r.clippedShare, r.readoutPosition]);
  for (const a of [times.ptsTicks, frameChange, ...arrays])
    hash.update(new Uint8Array(a.buffer, a.byteOffset, a.byteLength));
  return hash.digest('hex');
};
const entries = () => readdirSync(folder).filter((name) => name.endsWith('.samples'));

/** The filmed clip, counting the regions of each pass over it; `sha256` makes it another clip. */
function counted(sha256 = 'a'.repeat(64)): {
  source: FrameSource;
  reads: () => number;
  passes: readonly number[];
} {
  const passes: number[] = [];
  const source: FrameSource = {
    ...filmed.source,
    facts: { ...filmed.facts, sha256 },
    readRects: (...args) => {
      passes.push(args[0].length);
      return filmed.source.readRects(...args);
    },
  };
  return { source, reads: () => passes.length, passes };
}

describe('measuring from the cache', () => {
  it('leaves the writing to whoever takes it over, and then writes the same', async () => {
    const { source } = counted();
    await cachedSampleClip(cache())(source, filmed.recipe.regions);
    const atOnce = entries().map((name) => [name, readFileSync(join(folder, name)).toString('base64')]);
    await clearCache(folder);
    const waiting: (() => Promise<void>)[] = [];
    await cachedSampleClip(cache({ later: (write) => waiting.push(write) }))(source, filmed.recipe.regions);
    expect([entries(), waiting.length]).toEqual([[], filmed.recipe.regions.length]);
    for (const write of waiting) await write();
    expect(entries().map((name) => [name, readFileSync(join(folder, name)).toString('base64')])).toEqual(
      atOnce,
    );
  });

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
    // Two of the clip, one changed, and two for each other way of reading it.
    expect(await cacheContent(folder)).toMatchObject({ entries: 9 });
  });

  it('decodes only the regions that changed or came to it, and gives the bytes of one pass', async () => {
    const sample = cachedSampleClip(cache());
    const { source, passes } = counted();
    const [led, top] = filmed.recipe.regions;
    const moved = { ...top!, y: top!.y + 2 };
    const extra = { ...top!, name: 'extra', width: top!.width - 4 };
    for (const regions of [[led!, top!], [led!, moved], [extra, moved, led!], [top!, extra], [led!]]) {
      expect(bytesOf(await sample(source, regions))).toBe(bytesOf(await sampleClip(filmed.source, regions)));
    }
    expect(passes).toEqual([2, 1, 1]);
  });

  it('decodes all in one pass where the file gave other frames than before', async () => {
    const sample = cachedSampleClip(cache());
    const { source, passes } = counted();
    const [led, top] = filmed.recipe.regions;
    await sample(source, [led!]);
    const shorter: FrameSource = {
      ...source,
      readRects: async (...args) => {
        const times = await source.readRects(...args);
        return { ...times, damagedFrames: times.damagedFrames + 1 };
      },
    };
    const sampled = await sample(shorter, [led!, top!]);
    expect(bytesOf(sampled)).toBe(bytesOf(await sampleClip(shorter, [led!, top!])));
    expect(passes).toEqual([1, 1, 2, 2]);
  });
});

describe('an entry that is not what it was', () => {
  it.each<[string, (path: string) => void]>([
    ...SPOILED,
    [
      'something else',
      (path) => writeFileSync(path, 'lagreel samples\nnot at all, but long enough to be one'),
    ],
  ])('is decoded again and replaced: %s', async (_, spoil) => {
    const { source, reads } = counted();
    const sample = cachedSampleClip(cache());
    const first = await sample(source, filmed.recipe.regions);
    for (const name of entries()) spoil(join(folder, name));
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

  it('one spoilt region alone is decoded again', async () => {
    const { source, passes } = counted();
    const sample = cachedSampleClip(cache());
    const first = await sample(source, filmed.recipe.regions);
    truncateSync(join(folder, entries()[0]!), 99);
    expect(bytesOf(await sample(source, filmed.recipe.regions))).toBe(bytesOf(first));
    expect(passes).toEqual([filmed.recipe.regions.length, 1]);
  });

  it('two at once end with one sound entry a region', async () => {
    const sample = cachedSampleClip(cache());
    const [a, b] = await Promise.all(
      [counted(), counted()].map(({ source }) => sample(source, filmed.recipe.regions)),
    );
    expect(bytesOf(a!)).toBe(bytesOf(b!));
    expect(readdirSync(folder)).toEqual(entries());
    expect(entries()).toHaveLength(filmed.recipe.regions.length);
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
    expect(content.entries).toBe(2 * filmed.recipe.regions.length);
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
    expect([...new Set(said)]).toEqual([expect.stringMatching(/could not be kept in .*in-the-way.*ENOTDIR/)]);
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
  it('gives back every number, and refuses what does not fit', async () => {
    const { regions, times } = await sampleRegions(filmed.source, filmed.recipe.regions);
    for (const light of regions) {
      const bytes = packRegion({ light, times });
      const back = unpackRegion(bytes)!;
      expect({ ...back.light, light: null, change: null }).toEqual({ ...light, light: null, change: null });
      expect(back.times).toEqual(times);
      // Number by number takes seconds.
      const raw = (a: Uint16Array | Uint32Array) => Buffer.from(a.buffer, a.byteOffset, a.byteLength);
      expect(raw(back.light.light).equals(raw(light.light))).toBe(true);
      expect(raw(back.light.change).equals(raw(light.change))).toBe(true);
      // Anywhere in a larger buffer, as a file read with its checksum in front.
      const shifted = new Uint8Array(bytes.length + 11);
      shifted.set(bytes, 11);
      expect(Buffer.compare(packRegion(unpackRegion(shifted.subarray(11))!), bytes)).toBe(0);
      expect(unpackRegion(bytes.subarray(0, bytes.length - 8))).toBeNull();
      expect(unpackRegion(bytes.subarray(0, 6))).toBeNull();
      const other = Buffer.from(bytes);
      other.write('"format":1', other.indexOf(`"format":${SAMPLES_FORMAT}`));
      expect(unpackRegion(other)).toBeNull();
    }
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
    const { regions: lights, times } = await sampleRegions(source, regions);
    const hash = createHash('sha256');
    for (const light of lights) hash.update(packRegion({ light, times }));
    expect([SAMPLES_FORMAT, hash.digest('hex').slice(0, 16)]).toEqual([4, 'e29ffa84653c22fb']);
  });
});
