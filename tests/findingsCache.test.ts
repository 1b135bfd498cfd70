import { mkdtempSync, readdirSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { FrameSource } from '../src/clip/frameSource.js';
import { cachedFindings, codeMark } from '../src/findingsCache.js';
import { type Measurement, type MeasureOptions, measureClip } from '../src/measure.js';
import type { CameraCalibration } from '../src/record/camera.js';
import { toJsonText } from '../src/record/files.js';
import type { Recipe } from '../src/record/recipe.js';
import { cacheContent, clearCache, type SamplesCache } from '../src/samples/cacheEntries.js';
import { sampleClip } from '../src/samples/sampleClip.js';
import { type FilmedScene, filmScene } from './filmedScene.js';
import { SPOILED } from './spoiledEntries.js';

/** A busy machine takes its time. */
const HOOK_TIMEOUT_MS = 60_000;

let filmed: FilmedScene;
beforeAll(async () => {
  filmed = await filmScene(7, { display: ['panel'], content: ['flash'] });
}, HOOK_TIMEOUT_MS);

let folder: string;
beforeEach(() => {
  folder = join(mkdtempSync(join(tmpdir(), 'lagreel-findings-test-')), 'samples');
});
afterEach(() => rmSync(join(folder, '..'), { recursive: true, force: true }));

const cache = (more: Partial<SamplesCache> = {}): SamplesCache => ({ folder, limitBytes: 1e9, ...more });
const entries = () => readdirSync(folder).filter((name) => name.endsWith('.findings'));
/** Record and proof, pictures and all. */
const textOf = ({ record, evidence, recipe, timeRemarks }: Measurement) =>
  toJsonText({ record, recipe, timeRemarks, presses: [...evidence.presses] });

/** Measures, and tells whether the samples were asked for. */
async function measured(
  recipe: Recipe,
  options: MeasureOptions,
  source: FrameSource = filmed.source,
): Promise<{ readonly text: string; readonly sampled: boolean }> {
  let sampled = false;
  const sample: typeof sampleClip = (...args) => {
    sampled = true;
    return sampleClip(...args);
  };
  const measurement = await measureClip(source, recipe, { ...options, sample });
  return { text: textOf(measurement), sampled };
}

describe('findings that were kept', () => {
  it('give the same bytes without samples, whatever a person decides, names or waits for', async () => {
    const findings = cachedFindings(cache());
    const { recipe } = filmed;
    expect((await measured(recipe, { findings })).sampled).toBe(true);
    const { presses } = filmed.scene;
    const changed: Recipe[] = [
      recipe,
      { ...recipe, response: { ...recipe.response, windowMs: [20, 300] } },
      { ...recipe, response: { ...recipe.response, windowMs: [0, 12] } },
      { ...recipe, response: { ...recipe.response, level: 0.5 } },
      { ...recipe, cue: { edge: 'release', delayMs: 3, delayUncertaintyMs: 0.5 } },
      { ...recipe, labels: { pad: 'left' } },
      { ...recipe, decisions: [{ pressAtS: presses.leadInS, decision: 'exclude', reason: 'two' }] },
    ];
    for (const asked of changed) {
      const kept = await measured(asked, { findings });
      expect(kept.sampled).toBe(false);
      expect(kept.text).toBe((await measured(asked, {})).text);
    }
    expect(entries()).toHaveLength(1);
  });

  it.each(['pwm', 'oled', 'strobed', 'tube'] as const)('answer for any level, of %s too', async (display) => {
    const { source, recipe } = await filmScene(11, { display: [display], content: ['flash'] });
    const findings = cachedFindings(cache());
    const first = await measured(recipe, { findings }, source);
    const texts = new Set([first.text]);
    for (const level of [0.02, 0.5, 0.97]) {
      const asked = { ...recipe, response: { ...recipe.response, level } };
      const kept = await measured(asked, { findings }, source);
      expect(kept.sampled).toBe(false);
      expect(kept.text).toBe((await measured(asked, {}, source)).text);
      texts.add(kept.text);
    }
    expect(texts.size).toBe(4);
  });

  it('are not those of another region, exposure, readout, refresh, camera, clip, decoder or program', async () => {
    const { recipe, source } = filmed;
    const { capture } = recipe;
    const findings = cachedFindings(cache());
    await measured(recipe, { findings });
    const [led, ...screens] = recipe.regions;
    const recipes: Recipe[] = [
      { ...recipe, regions: [{ ...led!, width: led!.width - 2 }, ...screens] },
      { ...recipe, regions: [led!, ...screens.map((r) => ({ ...r, name: `${r.name}2` }))] },
      { ...recipe, capture: { ...capture, exposureFraction: 0.31 } },
      { ...recipe, capture: { ...capture, readoutFraction: 0.4 } },
      { ...recipe, capture: { ...capture, rateHz: 480 } },
      { ...recipe, display: { refreshHz: 75 } },
    ];
    for (const asked of recipes) {
      const kept = await measured(asked, { findings });
      expect(kept.sampled).toBe(true);
      expect(kept.text).toBe((await measured(asked, {})).text);
      expect((await measured(asked, { findings })).sampled).toBe(false);
    }
    const { facts } = source;
    for (const other of [
      { ...facts, sha256: 'b'.repeat(64) },
      { ...facts, decoder: 'another' },
      { ...facts, transfer: 'linear' as const },
    ]) {
      expect((await measured(recipe, { findings }, { ...source, facts: other })).sampled).toBe(true);
    }
    // Of no use here, since the recipe states the readout; but it reaches that stage.
    const camera = { format: 'lagreel-camera' } as CameraCalibration;
    expect(capture.readoutFraction).not.toBeNull();
    expect((await measured(recipe, { findings, camera })).sampled).toBe(true);
    const otherCode = cachedFindings(cache(), async () => 'another program');
    expect((await measured(recipe, { findings: otherCode })).sampled).toBe(true);
    expect((await measured(recipe, { findings })).sampled).toBe(false);
  });

  it.each(SPOILED)('that are not sound are found anew and replaced: %s', async (_, spoil) => {
    const findings = cachedFindings(cache());
    const first = await measured(filmed.recipe, { findings });
    for (const name of entries()) spoil(join(folder, name));
    const again = await measured(filmed.recipe, { findings });
    expect(again).toEqual({ text: first.text, sampled: true });
    expect((await measured(filmed.recipe, { findings })).sampled).toBe(false);
  });

  it('two at once end with one sound entry', async () => {
    const findings = cachedFindings(cache());
    const [a, b] = await Promise.all([0, 1].map(() => measured(filmed.recipe, { findings })));
    expect(a).toEqual(b);
    expect(readdirSync(folder)).toEqual(entries());
    expect(await measured(filmed.recipe, { findings })).toEqual({ text: a!.text, sampled: false });
  });

  it('count in the size of the cache, and are cleared with it', async () => {
    await measured(filmed.recipe, { findings: cachedFindings(cache({ limitBytes: 100 })) });
    expect(await cacheContent(folder)).toEqual({ entries: 0, bytes: 0 });
    await measured(filmed.recipe, { findings: cachedFindings(cache()) });
    const content = await cacheContent(folder);
    expect(content).toEqual({ entries: 1, bytes: statSync(join(folder, entries()[0]!)).size });
    expect(await clearCache(folder)).toEqual(content);
    expect(entries()).toEqual([]);
  });
});

describe('codeMark', () => {
  it('is the same for the same code', async () => {
    expect(await codeMark()).toMatch(/^[0-9a-f]{64}$/);
    expect(await codeMark()).toBe(await codeMark());
  });
});
