/** A small archive measured again: unchanged, by another recipe, with an edited record, with another clip. */
import { copyFileSync, existsSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import { run } from '../../src/cli/main.js';
import { measureFile } from '../../src/node.js';
import { copySample, sample, scratch } from './program.js';

/** The smallest sample clip. */
const NAME = 'cedar-sprite';
const folder = scratch();
const path = (end: string) => join(folder, `${NAME}.${end}`);
const read = (end: string) => readFileSync(path(end), 'utf8');
let first: string;

const recheck = (...options: string[]) => recheckIn(folder, ...options);

async function recheckIn(where: string, ...options: string[]) {
  const said = { out: '', err: '' };
  const code = await run(['recheck', where, ...options], {
    out: (text) => {
      said.out += text;
    },
    err: (text) => {
      said.err += text;
    },
    colour: false,
    width: 100,
    live: false,
  });
  return { code, ...said };
}

beforeAll(async () => {
  copyFileSync(sample(`${NAME}.recipe.json`), path('recipe.json'));
  await measureFile(copySample(NAME, folder));
  first = read('record.json');
});

describe('recheck', () => {
  it('finds nothing in an archive that was just measured, and writes nothing', async () => {
    const files = readdirSync(folder);
    const { code, out } = await recheck('--tolerance', '0', '--update');
    expect(out).toMatch(new RegExp(`^${NAME}\\.mp4: unchanged`));
    expect(code).toBe(0);
    expect(readdirSync(folder)).toEqual(files);
    expect(read('record.json')).toBe(first);
  });

  it('tells an edited number, with nothing else to blame', async () => {
    const edited = JSON.parse(first);
    const response = edited.presses[2].responses[0];
    const before = response.latencyMs;
    response.latencyMs += 1;
    writeFileSync(path('record.json'), JSON.stringify(edited));
    const { code, out } = await recheck('--json');
    expect(code).toBe(5);
    const [clip] = JSON.parse(out).clips;
    expect(clip).toMatchObject({
      status: 'drifted',
      cause: 'unexplained',
      clipChanged: null,
      recipeChanged: [],
      versionChanged: null,
      movement: { moved: [{ what: 'latency', press: 3, newMs: before, differenceMs: -1, beyond: true }] },
    });
    writeFileSync(path('record.json'), first);
  });

  it('puts an older version down to the version, and updates only when asked, keeping the old record', async () => {
    const older = JSON.parse(first);
    older.tool.version = '0.0.9';
    older.summary.screen.medianMs += 1;
    const text = JSON.stringify(older);
    writeFileSync(path('record.json'), text);
    const told = await recheck('--json');
    expect(JSON.parse(told.out).clips[0]).toMatchObject({ cause: 'version', updated: false });
    expect(told.code).toBe(5);
    expect(read('record.json')).toBe(text);
    expect(existsSync(path('history'))).toBe(false);
    expect((await recheck('--update', '--quiet')).code).toBe(5);
    expect(read('record.json')).toBe(first);
    const [kept] = readdirSync(path('history'));
    expect(readFileSync(join(path('history'), kept!), 'utf8')).toBe(text);
    expect((await recheck('--quiet')).code).toBe(0);
  });

  it('tells a changed decision from a changed method', async () => {
    const recipe = JSON.parse(read('recipe.json'));
    const pressAtS = JSON.parse(first).presses[1].ledOnsetS;
    const decided = { ...recipe, decisions: [{ pressAtS, decision: 'exclude', reason: 'two buttons' }] };
    writeFileSync(path('recipe.json'), JSON.stringify(decided));
    const { code, out } = await recheck();
    expect(code).toBe(5);
    expect(out).toContain('recipe changed: decisions');
    expect(out).toContain('Press 2 was measured, and is excluded now.');
    expect(out).toContain('why: by the recipe');
    writeFileSync(path('recipe.json'), JSON.stringify(recipe));
  });

  it('goes on after a record without its clip and one that is none, and names a clip without record', async () => {
    writeFileSync(path('record.json'), first);
    writeFileSync(join(folder, 'a-lost.record.json'), first.replaceAll(`${NAME}.mp4`, 'lost.mp4'));
    writeFileSync(join(folder, 'b-none.record.json'), '{"format":"lagreel-record","version":99}');
    copySample(NAME, folder, 'new.mp4');
    const { code, out } = await recheck('--json');
    expect(code).toBe(3);
    const check = JSON.parse(out);
    expect(check.clips).toMatchObject([{ clip: `${NAME}.mp4`, status: 'unchanged' }]);
    expect(check.failed).toMatchObject([
      { record: 'a-lost.record.json', error: expect.stringContaining('lost.mp4') },
      {
        record: 'b-none.record.json',
        error: expect.stringMatching(/record version 99.*use a newer lagreel/),
      },
    ]);
    expect(check.unmeasured).toEqual(['new.mp4']);
    for (const name of ['a-lost.record.json', 'b-none.record.json', 'new.mp4']) rmSync(join(folder, name));
  });

  it('tells another clip under the same name', async () => {
    const bytes = readFileSync(path('mp4'));
    // A box that players skip: other bytes, the same pictures.
    writeFileSync(path('mp4'), Buffer.concat([bytes, Buffer.from([0, 0, 0, 8]), Buffer.from('free')]));
    const { code, out } = await recheck('--json');
    expect(code).toBe(5);
    const [clip] = JSON.parse(out).clips;
    expect(clip).toMatchObject({ status: 'drifted', cause: 'clip', movement: { moved: [] } });
    expect(clip.clipChanged.old).toBe(JSON.parse(first).clip.sha256);
    writeFileSync(path('mp4'), bytes);
  });

  it('says in one sentence that a folder holds no record', async () => {
    const { code, err } = await recheckIn(scratch());
    expect(code).toBe(3);
    expect(err).toMatch(/^lagreel: there is no record in the folder .*\n$/);
  });
});
