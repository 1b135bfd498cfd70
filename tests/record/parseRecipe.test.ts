import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { AnalysisError } from '../../src/errors.js';
import { emptyRecipe, parseRecipe } from '../../src/record/parseRecipe.js';

const CLIP = { file: 'birch-240p.mp4', sha256: 'a'.repeat(64), bytes: 12 };
const LED = { name: 'led', role: 'led', x: 40, y: 300, width: 24, height: 24 };

/** A recipe in which everything is decided. */
const FULL = {
  format: 'lagreel-recipe',
  version: 1,
  clip: CLIP,
  labels: { chain: 'Birch', mode: '240p' },
  regions: [LED, { ...LED, name: 'top', role: 'screen', labels: { chain: 'Cedar' } }],
  capture: { rateHz: 240, exposureFraction: 0.9, readoutFraction: 0 },
  display: { refreshHz: 59.94, scan: { topPx: 80, bottomPx: 640, mode: '1080p60' } },
  cue: { edge: 'release', delayMs: 1.5, delayUncertaintyMs: 0.2 },
  response: { level: 0.5, windowMs: [10, 300] },
  decisions: [{ pressAtS: 1.2345, decision: 'exclude', reason: 'two buttons' }],
};

function parse(value: unknown) {
  return parseRecipe(JSON.stringify(value), 'birch.recipe.json');
}

function refusal(text: string): AnalysisError {
  try {
    parseRecipe(text, 'birch.recipe.json');
  } catch (error) {
    expect(error).toBeInstanceOf(AnalysisError);
    return error as AnalysisError;
  }
  throw new Error(`was taken: ${text}`);
}

describe('parseRecipe', () => {
  it('keeps every decision', () => {
    expect(parse(FULL)).toEqual(FULL);
  });

  it('completes a recipe with nothing decided', () => {
    expect(parse({ format: 'lagreel-recipe', version: 1, clip: CLIP })).toEqual(emptyRecipe(CLIP));
    expect(emptyRecipe(CLIP)).toMatchObject({
      regions: [],
      capture: { rateHz: null, exposureFraction: null, readoutFraction: null },
      response: { level: 0.1, windowMs: [0, 500] },
    });
  });

  it('takes a byte-order mark, as editors put one in front', () => {
    expect(parseRecipe(`\ufeff${JSON.stringify(FULL)}`, 'birch.recipe.json')).toEqual(FULL);
  });

  it.each([
    ['', /not valid JSON/],
    ['{"format": ', /not valid JSON/],
    ['null', /no "format"/],
    ['[]', /no "format"/],
    ['7', /no "format"/],
    ['{"format": "lagreel-record", "version": 1}', /"lagreel-record", expected "lagreel-recipe"/],
    ['{"format": "lagreel-recipe", "version": 2, "new": 1}', /recipe version 2.*newer lagreel/],
    ['{"format": "lagreel-recipe"}', /: version: /],
    ['{"format": "lagreel-recipe", "version": "1"}', /: version: /],
  ])('refuses %s', (text, says) => {
    const error = refusal(text);
    expect(error.message).toMatch(says);
    expect(error).toMatchObject({ code: 'recipe-invalid', exitCode: 3 });
  });

  it.each([
    ['a number that is text', { display: { refreshHz: '60' } }, 'display.refreshHz'],
    ['a scan that ends before it begins', { display: { scan: { topPx: 9, bottomPx: 8 } } }, 'display.scan'],
    [
      'a signal that is none',
      { display: { scan: { topPx: 0, bottomPx: 8, mode: '1080q' } } },
      'display.scan.mode',
    ],
    ['a rate of zero', { capture: { rateHz: 0 } }, 'capture.rateHz'],
    ['an exposure above one', { capture: { exposureFraction: 1.1 } }, 'capture.exposureFraction'],
    ['half a pixel', { regions: [{ ...LED, x: 0.5 }] }, 'regions.0.x'],
    ['a negative place', { regions: [LED, { ...LED, y: -1 }] }, 'regions.1.y'],
    ['an unknown role', { regions: [{ ...LED, role: 'lamp' }] }, 'regions.0.role'],
    ['a window that ends before it begins', { response: { windowMs: [500, 100] } }, 'response.windowMs'],
    ['a level of one', { response: { level: 1 } }, 'response.level'],
    [
      'a decision without reason',
      { decisions: [{ pressAtS: 1, decision: 'exclude', reason: '' }] },
      'reason',
    ],
    ['an unknown decision', { decisions: [{ pressAtS: 1, decision: 'keep', reason: 'x' }] }, 'decision'],
    ['a checksum that is none', { clip: { ...CLIP, sha256: 'abc' } }, 'clip.sha256'],
    ['an unknown key at the top', { region: [] }, '"region" at the top level'],
    ['an unknown key below', { cue: { egde: 'press' } }, '"egde" at cue'],
    ['an unknown key in a region', { regions: [{ ...LED, w: 3 }] }, '"w" at regions.0'],
  ])('refuses %s and says where', (_, change, place) => {
    const { message } = refusal(JSON.stringify({ ...FULL, ...change }));
    expect(message).toContain('birch.recipe.json');
    expect(message).toContain(place);
  });

  it('never throws anything but an AnalysisError, whatever the text', () => {
    fc.assert(
      fc.property(
        fc.oneof(
          fc.string(),
          fc.json(),
          fc.json().map((j) => j.slice(1)),
        ),
        (text) => {
          expect(refusal(text).code).toBe('recipe-invalid');
        },
      ),
      { numRuns: 500 },
    );
  });

  it('never throws anything but an AnalysisError, whatever stands in the place of one value', () => {
    // Replaces each value of a full recipe, however deep, in turn.
    const paths = pathsOf(FULL);
    expect(paths.length).toBeGreaterThan(35);
    fc.assert(
      fc.property(fc.constantFrom(...paths), fc.jsonValue(), (path, value) => {
        const changed = structuredClone(FULL);
        replaceAt(changed, path, value);
        try {
          expect(parse(changed).format).toBe('lagreel-recipe');
        } catch (error) {
          expect(error).toBeInstanceOf(AnalysisError);
          expect((error as AnalysisError).message).toContain('birch.recipe.json');
        }
      }),
      { numRuns: 1000 },
    );
  });

  it('gives back what it was given, and again from its own text', () => {
    const recipe = fc.record({
      format: fc.constant('lagreel-recipe'),
      version: fc.constant(1),
      clip: fc.constant(CLIP),
      labels: fc.dictionary(fc.stringMatching(/^[a-z]{1,8}$/), fc.string()),
      display: fc.record({ refreshHz: fc.option(fc.double({ min: 1, max: 500, noNaN: true })) }),
      capture: fc.record({
        rateHz: fc.option(fc.double({ min: 20, max: 4000, noNaN: true })),
        exposureFraction: fc.option(fc.double({ min: 0.01, max: 1, noNaN: true })),
        readoutFraction: fc.option(fc.double({ min: 0.01, max: 1, noNaN: true })),
      }),
    });
    fc.assert(
      fc.property(recipe, (value) => {
        const parsed = parse(value);
        expect(parsed).toMatchObject(value);
        expect(parse(parsed)).toEqual(parsed);
      }),
    );
  });
});

type Path = readonly (string | number)[];

function pathsOf(value: unknown, at: Path = []): Path[] {
  if (typeof value !== 'object' || value === null) return [at];
  const keys = Array.isArray(value) ? [...value.keys()] : Object.keys(value);
  const below = keys.flatMap((key) =>
    pathsOf((value as Record<string | number, unknown>)[key], [...at, key]),
  );
  return at.length === 0 ? below : [at, ...below];
}

function replaceAt(root: object, path: Path, value: unknown): void {
  const holder = path
    .slice(0, -1)
    .reduce<unknown>((v, key) => (v as Record<string | number, unknown>)[key], root);
  (holder as Record<string | number, unknown>)[path.at(-1)!] = value;
}
