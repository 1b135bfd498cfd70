import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { AnalysisError, UsageError } from '../../src/errors.js';
import { checkDistinct, clipFiles, readIfThere, toJsonText, writeWhole } from '../../src/record/files.js';
import { inWritableFolder } from '../../src/record/writableFolder.js';

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lagreel-files-test-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

describe('clipFiles', () => {
  it('stand beside the clip, by its name without the last ending', () => {
    expect(clipFiles('bench/birch.240p.mp4')).toEqual({
      recipe: 'bench/birch.240p.recipe.json',
      record: 'bench/birch.240p.record.json',
      csv: 'bench/birch.240p.presses.csv',
      report: 'bench/birch.240p.report.html',
      regions: 'bench/birch.240p.regions.jpg',
      history: 'bench/birch.240p.history',
    });
  });

  it('all move with the folder for results', () => {
    for (const path of Object.values(clipFiles('/clips/birch.mov', 'out')))
      expect(path).toMatch(/^out\/birch\./);
  });

  it.each([
    ['clip', 'clip.record.json'],
    ['.mp4', '.mp4.record.json'],
    ['a b – ü.MP4', 'a b – ü.record.json'],
  ])('of %s', (clip, record) => {
    expect(clipFiles(clip).record).toBe(record);
  });
});

describe('checkDistinct', () => {
  it.each([
    [['a/clip.mp4', 'b/clip.mp4'], undefined],
    [['clip.mp4', 'other.mp4'], 'out'],
    [[], undefined],
  ])('takes %j with results in %s', (clips, out) => {
    expect(() => checkDistinct(clips, out)).not.toThrow();
  });

  it.each([
    ['the same clip twice', ['clip.mp4', './clip.mp4'], undefined],
    ['two kinds of one name', ['clip.mp4', 'clip.mov'], undefined],
    ['one name from two folders sent to one', ['a/clip.mp4', 'b/clip.mp4'], 'out'],
  ])('refuses %s', (_, clips, out) => {
    expect(() => checkDistinct(clips, out)).toThrow(UsageError);
    expect(() => checkDistinct(clips, out)).toThrow(`${clips[0]} and ${clips[1]} would both write`);
  });
});

describe('writeWhole', () => {
  it('writes and replaces, and leaves nothing else', async () => {
    const path = join(folder, 'a.record.json');
    await writeWhole(path, 'first, and longer');
    await writeWhole(path, Buffer.from('second'));
    expect(readFileSync(path, 'utf8')).toBe('second');
    expect(readdirSync(folder)).toEqual(['a.record.json']);
  });

  it('leaves no temporary file where the last step fails, and says what', async () => {
    // A file cannot be renamed over a folder that is not empty.
    const path = join(folder, 'a.record.json');
    mkdirSync(join(path, 'inside'), { recursive: true });
    const error = await writeWhole(path, 'text').catch((e: unknown) => e);
    expect(error).toBeInstanceOf(AnalysisError);
    expect(error).toMatchObject({
      code: 'write-failed',
      exitCode: 2,
      message: expect.stringContaining(path),
    });
    expect(readdirSync(folder)).toEqual(['a.record.json']);
    expect(readdirSync(path)).toEqual(['inside']);
  });

  it('fails with one sentence where the folder is gone', async () => {
    await expect(writeWhole(join(folder, 'gone', 'a.json'), 'x')).rejects.toMatchObject({
      code: 'write-failed',
    });
    expect(readdirSync(folder)).toEqual([]);
  });
});

describe('readIfThere', () => {
  it('gives the text, or null where there is none', async () => {
    writeFileSync(join(folder, 'a.json'), 'é');
    expect(await readIfThere(join(folder, 'a.json'))).toBe('é');
    expect(await readIfThere(join(folder, 'b.json'))).toBeNull();
    expect(await readIfThere(join(folder, 'a.json', 'b.json'))).toBeNull();
  });

  it('refuses a folder', async () => {
    await expect(readIfThere(folder)).rejects.toMatchObject({ code: 'recipe-invalid' });
  });
});

describe('inWritableFolder', () => {
  it('makes what is missing, and keeps it with what was written', async () => {
    const inner = join(folder, 'a', 'b');
    const answer = await inWritableFolder(inner, 'remedy', async () => {
      writeFileSync(join(inner, 'file'), 'x');
      return 42;
    });
    expect(answer).toBe(42);
    expect(readdirSync(inner)).toEqual(['file']);
  });

  it('takes away what it made where the job fails, and passes the error on', async () => {
    const fault = new RangeError('of the job');
    const job = inWritableFolder(join(folder, 'a', 'b'), 'remedy', () => Promise.reject(fault));
    await expect(job).rejects.toBe(fault);
    expect(readdirSync(folder)).toEqual([]);
  });

  it('never takes away what was there before, or what others put in', async () => {
    mkdirSync(join(folder, 'old'));
    const failing = (path: string) =>
      inWritableFolder(path, 'remedy', () => Promise.reject(new Error('no'))).catch(() => undefined);
    await failing(join(folder, 'old'));
    await inWritableFolder(join(folder, 'new', 'deep'), 'remedy', async () => {
      writeFileSync(join(folder, 'new', 'of another'), 'x');
      throw new Error('no');
    }).catch(() => undefined);
    expect(readdirSync(folder, { recursive: true }).sort()).toEqual(['new', 'new/of another', 'old']);
  });

  it.each([
    ['/proc', 'an existing folder in which nobody may make a file'],
    ['/proc/lagreel/a', 'a folder that cannot be made'],
  ])('refuses %s before the job begins (%s)', async (place) => {
    let began = false;
    const job = inWritableFolder(place, 'do this', async () => {
      began = true;
    });
    await expect(job).rejects.toMatchObject({
      code: 'write-failed',
      exitCode: 2,
      message: expect.stringMatching(/^cannot write into the folder \/proc.*: do this$/),
    });
    expect(began).toBe(false);
  });

  it('refuses a folder below a file', async () => {
    writeFileSync(join(folder, 'file'), 'x');
    await expect(inWritableFolder(join(folder, 'file', 'a'), '', async () => 1)).rejects.toThrow(
      /is a file, not a folder/,
    );
    await expect(inWritableFolder(join(folder, 'file'), '', async () => 1)).rejects.toThrow(
      /is a file, not a folder/,
    );
  });
});

describe('toJsonText', () => {
  it('ends with one line end and keeps the order of keys', () => {
    expect(toJsonText({ b: 1, a: [2] })).toBe('{\n  "b": 1,\n  "a": [\n    2\n  ]\n}\n');
  });
});
