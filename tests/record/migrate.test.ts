import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { AnalysisError } from '../../src/errors.js';
import {
  type Migrations,
  presentVersion,
  RECIPE_MIGRATIONS,
  RECORD_MIGRATIONS,
  toPresentVersion,
} from '../../src/record/migrate.js';
import { parseRecipe } from '../../src/record/parseRecipe.js';
import { parseRecord } from '../../src/record/parseRecord.js';

/** Files as earlier commits of lagreel wrote them, VERSION-COMMIT.kind.txt so that no formatter touches them; never changed, never taken away. */
const folder = fileURLToPath(new URL('earlier/', import.meta.url));
const files = readdirSync(folder).sort();
const read = (name: string) => readFileSync(`${folder}${name}`, 'utf8');
const refuse = (why: string) => new AnalysisError('recipe-invalid', `file ${why}`);

describe('files of earlier versions', () => {
  it('are kept of every version that there was', () => {
    for (const [kind, steps] of [
      ['recipe', RECIPE_MIGRATIONS],
      ['record', RECORD_MIGRATIONS],
    ] as const) {
      for (let version = 1; version <= presentVersion(steps); version++) {
        const kept = files.filter((name) => name.startsWith(`${version}-`) && name.endsWith(`.${kind}.txt`));
        expect(kept.length, `${kind} ${version}`).toBeGreaterThan(0);
      }
    }
  });

  it.each(files)('%s is read, with every number that was written', (name) => {
    const stored = JSON.parse(read(name));
    const parse = name.endsWith('.record.txt') ? parseRecord : parseRecipe;
    const parsed = parse(read(name), name);
    expect(parsed.version).toBe(
      presentVersion(name.endsWith('.record.txt') ? RECORD_MIGRATIONS : RECIPE_MIGRATIONS),
    );
    // No step so far: everything is there as it was, and only what was left out of a recipe is filled in.
    expect(parsed).toMatchObject(stored);
  });

  it.each([
    ['recipe', parseRecipe],
    ['record', parseRecord],
  ] as const)('a %s of a newer version is refused with one sentence', (kind, parse) => {
    const name = files.find((file) => file.endsWith(`.${kind}.txt`))!;
    const newer = JSON.stringify({ ...JSON.parse(read(name)), version: 7, colours: [1] });
    expect(() => parse(newer, `birch.${kind}.json`)).toThrow(
      new AnalysisError(
        `${kind}-invalid`,
        `birch.${kind}.json has ${kind} version 7, and this lagreel reads version 1: use a newer lagreel`,
      ),
    );
  });

  it('a record with a recipe of a newer version in it is refused, too', () => {
    const stored = JSON.parse(read(files.find((file) => file.endsWith('.record.txt'))!));
    const newer = JSON.stringify({ ...stored, recipe: { ...stored.recipe, version: 2 } });
    expect(() => parseRecord(newer, 'a.record.json')).toThrow(/^a\.record\.json has recipe version 2/);
  });
});

describe('toPresentVersion', () => {
  /** Invented steps: a key renamed, then a unit changed. */
  const steps: Migrations = [
    ({ rate, ...rest }) => ({ ...rest, rateHz: rate }),
    ({ delayS, ...rest }) => ({ ...rest, delayMs: (delayS as number) * 1000 }),
  ];
  const bring = (json: Record<string, unknown>) => toPresentVersion(json, 'recipe', steps, refuse);

  it.each([
    [{ version: 1, rate: 240, delayS: 0.002, kept: 'x' }],
    [{ version: 2, rateHz: 240, delayS: 0.002, kept: 'x' }],
    [{ version: 3, rateHz: 240, delayMs: 2, kept: 'x' }],
  ])('brings version %# on to the last', (json) => {
    const before = structuredClone(json);
    expect(bring(json)).toEqual({ version: 3, rateHz: 240, delayMs: 2, kept: 'x' });
    expect(json).toEqual(before);
  });

  it('refuses what is newer, and names what it reads', () => {
    expect(() => bring({ version: 4 })).toThrow(
      'file has recipe version 4, and this lagreel reads versions 1 to 3: use a newer lagreel',
    );
  });

  it.each([[{}], [{ version: '1' }], [{ version: 0 }], [{ version: 0.5 }], [{ version: -2 }]])(
    'leaves %j to the schema, which refuses it',
    (json) => {
      expect(bring(json)).toEqual(json);
      expect(() => parseRecipe(JSON.stringify({ format: 'lagreel-recipe', ...json }), 'a')).toThrow(
        /version: /,
      );
    },
  );
});
