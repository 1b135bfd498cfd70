/** When two recipes are the same for a clip that was measured before. Whole runs are in tests/end-to-end/resume.test.ts. */
import { describe, expect, it } from 'vitest';
import { isSameRecipe, wouldRepeat } from '../../src/archive/finished.js';
import { findFfmpeg } from '../../src/clip/ffmpeg.js';
import { emptyRecipe } from '../../src/record/parseRecipe.js';
import type { Recipe } from '../../src/record/recipe.js';
import type { ClipRecord } from '../../src/record/record.js';
import { version } from '../../src/version.js';

const clip = { file: 'a.mp4', sha256: 'a'.repeat(64), bytes: 1 };
const led = { name: 'led', role: 'led', x: 1, y: 2, width: 8, height: 8 } as const;
const top = { name: 'top', role: 'screen', x: 40, y: 2, width: 8, height: 8 } as const;
const base: Recipe = { ...emptyRecipe(clip), labels: { chain: 'Alder' }, regions: [led, top] };
const same = (asked: Recipe, measuredBy = base) => isSameRecipe(measuredBy, asked, asked);

describe('isSameRecipe', () => {
  it('holds of itself, whatever the order of keys', () => {
    expect(same(base)).toBe(true);
    const turned = Object.fromEntries(Object.entries(base).reverse()) as unknown as Recipe;
    expect(same(turned)).toBe(true);
  });

  const changes: readonly (readonly [string, Partial<Recipe>])[] = [
    ['a label more', { labels: { chain: 'Alder', mode: '240p' } }],
    ['a label less', { labels: {} }],
    ['a label other', { labels: { chain: 'Birch' } }],
    ['a region moved', { regions: [led, { ...top, x: 41 }] }],
    ['a region more', { regions: [led, top, { ...top, name: 'low', y: 60 }] }],
    ['a region less', { regions: [led] }],
    ['a lamp less', { regions: [led, top, { ...top, name: 'wall', role: 'reference' }] }],
    ['no region', { regions: [] }],
    ['a region label', { regions: [led, { ...top, labels: { chain: 'Cedar' } }] }],
    ['a rate', { capture: { ...base.capture, rateHz: 240 } }],
    ['a refresh', { display: { refreshHz: 60 } }],
    ['a scan', { display: { ...base.display, scan: { topPx: 1, bottomPx: 90 } } }],
    ['the other edge', { cue: { ...base.cue, edge: 'release' } }],
    ['a level', { response: { ...base.response, level: 0.5 } }],
    ['a decision', { decisions: [{ pressAtS: 1, decision: 'exclude', reason: 'two buttons' }] }],
    ['another clip', { clip: { ...clip, sha256: 'b'.repeat(64) } }],
  ];
  it.each(changes)('fails for %s, in both directions', (_, change) => {
    const other = { ...base, ...change };
    expect(same(other)).toBe(false);
    expect(same(base, other)).toBe(false);
  });

  it("lets the session's region labels be missing where the regions were found, and only there", () => {
    const labelled = { ...base, regions: [led, { ...top, labels: { chain: 'Cedar' } }] };
    expect(isSameRecipe(base, labelled, base)).toBe(true);
    expect(isSameRecipe(labelled, labelled, base)).toBe(true);
    const other = { ...base, regions: [led, { ...top, labels: { chain: 'Birch' } }] };
    expect(isSameRecipe(other, labelled, base)).toBe(false);
  });
});

describe('wouldRepeat', () => {
  const measured = async (recipe: Recipe, found?: ClipRecord['found']) => {
    const { versionLine } = await findFfmpeg();
    // Only what is compared.
    const record = {
      tool: { name: 'lagreel', version, ffmpeg: versionLine },
      clip: { sha256: clip.sha256 },
      timing: { readoutSource: 'stated' },
      recipe,
      ...(found ? { found } : {}),
    } as unknown as ClipRecord;
    return (asked: Recipe) => wouldRepeat(record, asked, asked);
  };
  const ledOnly = { ...base, regions: [led] };

  it('holds of a recipe that leaves open just what was found', async () => {
    const asked = await measured(base, { regions: ['top'], edgeGiven: 'press' });
    expect(await asked(ledOnly)).toBe(true);
    expect(await asked(base)).toBe(true);
    expect(await asked({ ...base, regions: [] })).toBe(false);
    expect(await asked({ ...base, regions: [top] })).toBe(false);
    expect(await asked({ ...base, regions: [{ ...led, x: 2 }] })).toBe(false);
    expect(await asked({ ...ledOnly, cue: { ...base.cue, edge: 'release' } })).toBe(false);
  });

  it('knows the edge that the recipe gave before the light was looked at', async () => {
    const release = { ...base, cue: { ...base.cue, edge: 'release' } } as const;
    const asked = await measured(release, { regions: ['led', 'top'], edgeGiven: 'press' });
    expect(await asked({ ...base, regions: [] })).toBe(true);
    expect(await asked({ ...release, regions: [] })).toBe(false);
  });

  it('fails where the record does not tell what was found', async () => {
    expect(await (await measured(base))(ledOnly)).toBe(false);
  });
});
