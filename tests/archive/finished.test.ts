/** When two recipes are the same for a clip that was measured before. Whole runs are in tests/end-to-end/resume.test.ts. */
import { describe, expect, it } from 'vitest';
import { isSameRecipe } from '../../src/archive/finished.js';
import { emptyRecipe } from '../../src/record/parseRecipe.js';
import type { Recipe } from '../../src/record/recipe.js';

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
