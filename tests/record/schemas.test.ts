import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { Ajv2020, type ValidateFunction } from 'ajv/dist/2020.js';
import { beforeAll, describe, expect, it } from 'vitest';
import { compareRecords } from '../../src/compare/compareRecords.js';
import { measureClip } from '../../src/measure.js';
import { parseComparison } from '../../src/record/comparisonSchema.js';
import { toJsonText } from '../../src/record/files.js';
import { jsonSchemas } from '../../src/record/jsonSchemas.js';
import { emptyRecipe } from '../../src/record/parseRecipe.js';
import { parseRecord } from '../../src/record/parseRecord.js';
import type { ClipRecord } from '../../src/record/record.js';
import { randomScene } from '../../src/simulate/randomScene.js';
import { simulateSource } from '../../src/simulate/renderSource.js';
import { sceneRegions } from '../../src/simulate/sceneRegions.js';

const root = fileURLToPath(new URL('../..', import.meta.url));
const ajv = new Ajv2020({ strict: true, allErrors: true });
const validators = Object.fromEntries(
  Object.entries(jsonSchemas()).map(([kind, schema]) => [kind, ajv.compile(schema)]),
) as Record<'recipe' | 'record' | 'comparison', ValidateFunction>;
const check = (kind: keyof typeof validators, value: unknown): string[] => {
  validators[kind](JSON.parse(JSON.stringify(value)));
  return (validators[kind].errors ?? []).map((e) => `${e.instancePath} ${e.message}`);
};

/** A record that was measured just now, from a simulated scene. */
async function freshRecord(): Promise<ClipRecord> {
  const scene = randomScene(7, {
    widthPx: 240,
    heightPx: 136,
    presses: 5,
    display: ['panel'],
    content: ['flash'],
  });
  const source = simulateSource(scene);
  const { led, screen } = sceneRegions(scene);
  const { facts } = source;
  const { record } = await measureClip(source, {
    ...emptyRecipe({ file: facts.file, sha256: facts.sha256, bytes: facts.bytes }),
    labels: { chain: 'Direct' },
    regions: [
      { name: 'led', role: 'led', ...led },
      { name: 'screen', role: 'screen', ...screen },
    ],
    display: { refreshHz: scene.screen.refreshHz },
  });
  return record;
}

let record: ClipRecord;
beforeAll(async () => {
  record = await freshRecord();
});

describe('JSON Schema', () => {
  it.each(Object.entries(jsonSchemas()))(
    'schemas/%s.schema.json is the schema (npm run schemas)',
    (kind, schema) => {
      const stored = JSON.parse(readFileSync(`${root}/schemas/${kind}.schema.json`, 'utf8'));
      expect(stored).toEqual(JSON.parse(JSON.stringify(schema)));
    },
  );

  const recipes = readdirSync(`${root}/sample-clips`).filter((name) => name.endsWith('.recipe.json'));
  it('has recipes to check', () => expect(recipes.length).toBeGreaterThanOrEqual(4));
  it.each(recipes)('recipe %s', (name) => {
    expect(check('recipe', JSON.parse(readFileSync(`${root}/sample-clips/${name}`, 'utf8')))).toEqual([]);
  });
  it('a recipe may leave out what is to be worked out', () => {
    expect(check('recipe', { format: 'lagreel-recipe', version: 1 })).toEqual([]);
  });

  it('a record measured now, and its recipe', () => {
    expect(record.presses.length).toBeGreaterThan(2);
    expect(check('record', record)).toEqual([]);
    expect(check('recipe', record.recipe)).toEqual([]);
  });
  it('a comparison made now', () => {
    const comparison = compareRecords(
      [{ record, recordPath: 'a.record.json', reportPath: 'a.report.html' }],
      {
        by: ['chain'],
        baseline: { chain: 'Direct' },
        stages: [{ name: 'panel', valueMs: 16.7, halfWidthMs: 2 }],
      },
    );
    expect(check('comparison', comparison)).toEqual([]);
    expect(parseComparison(toJsonText(comparison), 'comparison.json')).toEqual(comparison);
  });

  it.each([
    ['recipe', () => ({ ...record.recipe, labels: { chain: 3 } })],
    ['recipe', () => ({ ...record.recipe, colour: 'red' })],
    ['record', () => ({ ...record, version: 2 })],
    ['record', () => ({ ...record, presses: [{ ...record.presses[0], status: 'fine' }] })],
    ['record', () => ({ ...record, timing: { ...record.timing, captureRateHz: '240' } })],
    ['record', () => ({ ...record, summary: undefined })],
    ['comparison', () => ({ format: 'lagreel-comparison', version: 1 })],
  ] as const)('a fault in a %s is found (case %#)', (kind, faulty) => {
    expect(check(kind, faulty()).length).toBeGreaterThan(0);
  });
});

describe('parseRecord', () => {
  it('reads back what was written, and lets keys of later versions through', () => {
    expect(parseRecord(toJsonText(record), 'a.record.json')).toEqual(record);
    expect(parseRecord(toJsonText({ ...record, later: 1 }), 'a')).toHaveProperty('later', 1);
  });
  it.each([
    ['{', 'a is not a record: it is not valid JSON'],
    ['{"format":"lagreel-recipe"}', 'its "format" is "lagreel-recipe"'],
    ['null', 'it has no "format"'],
    ['{"format":"lagreel-record","version":2}', 'has record version 2, and this lagreel reads version 1'],
    ['{"format":"lagreel-record","version":1}', 'is not a valid record: tool'],
  ])('refuses %s', (text, message) => {
    expect(() => parseRecord(text, 'a')).toThrow(message);
  });
});
