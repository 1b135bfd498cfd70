/** A folder run that goes on where another stopped: what is passed over, and what is measured all the same. */
import {
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  unlinkSync,
  writeFileSync,
} from 'node:fs';
import { basename, join } from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import { partPath } from '../../src/partFiles.js';
import { descendants, isAlive, lagreel, listing, scratch } from './program.js';
import { type TinyClip, tinyClip, writeTiny, writeTinyRecipe } from './tinyClips.js';

const folder = scratch();
const at = (name: string) => join(folder, name);
let tiny: TinyClip;

const measure = (...options: string[]) => lagreel(['measure', folder, '--json', ...options]);
async function skippedOf(...options: string[]): Promise<string[]> {
  const { out, err } = await measure(...options);
  if (out === '') throw new Error(err);
  return JSON.parse(out).skipped;
}
const snapshot = () =>
  Object.fromEntries(
    readdirSync(folder, { recursive: true, encoding: 'utf8' })
      .filter((name) => statSync(at(name)).isFile())
      .map((name) => [name, readFileSync(at(name)).toString('base64')]),
  );

beforeAll(async () => {
  tiny = await tinyClip();
  for (const [i, name] of ['a', 'b'].entries()) {
    writeTiny(tiny, at(`${name}.mp4`), i);
    writeTinyRecipe(tiny, at(`${name}.recipe.json`));
  }
});

describe('a second run over a folder', () => {
  it('passes over everything, prints the same records, and touches nothing', async () => {
    const first = await measure();
    const before = snapshot();
    const times = Object.keys(before).map((name) => statSync(at(name)).mtimeMs);
    const second = await measure();
    expect(JSON.parse(first.out).skipped).toEqual([]);
    expect(JSON.parse(second.out)).toEqual({ ...JSON.parse(first.out), skipped: ['a.mp4', 'b.mp4'] });
    // Laid out as any other document, though it is printed record by record.
    expect(second.out).toBe(`${JSON.stringify(JSON.parse(second.out), null, 2)}\n`);
    expect(second.code).toBe(first.code);
    expect(Object.keys(before).map((name) => statSync(at(name)).mtimeMs)).toEqual(times);
    const words = await lagreel(['measure', folder]);
    expect(words.out).toContain(
      '2 of them measured before and left as they are; --again measures them, too.',
    );
    expect(words.err).toContain('2 of 2 clips');
    expect(words.err).toContain(', measured before');
  });

  it('measures all the same where it is told to, or cannot know', async () => {
    const before = snapshot();
    expect(await skippedOf('--again')).toEqual([]);
    expect(snapshot()).toEqual(before);
    expect(await skippedOf('--update-recipe')).toEqual([]);
    // Recipes of no clip in particular name theirs now.
    expect(JSON.parse(readFileSync(at('a.recipe.json'), 'utf8')).clip.file).toBe('a.mp4');
    for (const name of ['a', 'b']) writeTinyRecipe(tiny, at(`${name}.recipe.json`));
    expect(snapshot()).toEqual(before);
    const named = await lagreel(['measure', at('a.mp4'), '--json']);
    expect(named.out).toBe(readFileSync(at('a.record.json'), 'utf8'));
  });

  it.each(['record.json', 'presses.csv', 'regions.jpg', 'report.html', 'recipe.json'])(
    'measures a clip again whose %s is missing, to the same bytes but for what was found',
    async (end) => {
      const before = snapshot();
      const other = ['record.json', 'presses.csv'].includes(end) ? 'b' : 'a';
      const name = other === 'a' ? 'b' : 'a';
      const recipe = readFileSync(at(`${name}.recipe.json`));
      unlinkSync(at(`${name}.${end}`));
      expect(await skippedOf()).toEqual([`${other}.mp4`]);
      expect(existsSync(at(`${name}.${end}`))).toBe(true);
      if (end !== 'recipe.json') expect(snapshot()).toEqual(before);
      writeFileSync(at(`${name}.recipe.json`), recipe);
      await measure();
      rmSync(at(`${name}.history`), { recursive: true, force: true });
    },
  );

  it('measures again by a changed recipe, option, label or clip, and by no other change', async () => {
    expect(await skippedOf()).toEqual(['a.mp4', 'b.mp4']);
    writeTinyRecipe(tiny, at('a.recipe.json'), { labels: { chain: 'Alder' } });
    expect(await skippedOf()).toEqual(['b.mp4']);
    // Taken away again, it is a change, too.
    writeTinyRecipe(tiny, at('a.recipe.json'));
    expect(await skippedOf()).toEqual(['b.mp4']);
    expect(await skippedOf('--level', '0.3')).toEqual([]);
    expect(await skippedOf('--level', '0.3')).toEqual(['a.mp4', 'b.mp4']);
    expect(await skippedOf()).toEqual([]);
    writeFileSync(at('session.csv'), 'file,chain\na.mp4,Birch\n');
    expect(await skippedOf()).toEqual(['b.mp4']);
    expect(await skippedOf()).toEqual(['a.mp4', 'b.mp4']);
    unlinkSync(at('session.csv'));
    expect(await skippedOf()).toEqual(['b.mp4']);
    writeTiny(tiny, at('b.mp4'), 77);
    expect(await skippedOf()).toEqual(['a.mp4']);
  });

  it('passes over a clip whose recipe leaves open what was found, and says in the record what that was', async () => {
    const record = () => JSON.parse(readFileSync(at('a.record.json'), 'utf8'));
    expect(record().found).toBeUndefined();
    writeTinyRecipe(tiny, at('a.recipe.json'), { regions: [tiny.regions[0]] });
    expect(await skippedOf()).toEqual(['b.mp4']);
    expect(record().found).toMatchObject({ edgeGiven: 'press' });
    expect(record().found.regions).not.toContain('led');
    const names = record().recipe.regions.map((r: { name: string }) => r.name);
    expect(['led', ...record().found.regions]).toEqual(names);
    expect(await skippedOf()).toEqual(['a.mp4', 'b.mp4']);
    writeTinyRecipe(tiny, at('a.recipe.json'));
    expect(await skippedOf()).toEqual(['b.mp4']);
    rmSync(at('a.history'), { recursive: true, force: true });
  });

  it('measures again what another version or another FFmpeg measured, and what was stopped between table and record', async () => {
    const path = at('a.record.json');
    const text = readFileSync(path, 'utf8');
    for (const tool of [{ version: '0.0.9' }, { ffmpeg: 'ffmpeg version 1' }]) {
      const record = JSON.parse(text);
      writeFileSync(path, JSON.stringify({ ...record, tool: { ...record.tool, ...tool } }));
      expect(await skippedOf()).toEqual(['b.mp4']);
      expect(readFileSync(path, 'utf8')).toBe(text);
    }
    const table = readFileSync(at('a.presses.csv'), 'utf8');
    writeFileSync(at('a.presses.csv'), table.replace(/,(measured|ambiguous|no-response),/, ',excluded,'));
    expect(await skippedOf()).toEqual(['b.mp4']);
    expect(readFileSync(at('a.presses.csv'), 'utf8')).toBe(table);
  });
});

describe('half-written files of a process that is gone', () => {
  it('are taken away from the folder, and from the histories of its clips', async () => {
    const before = snapshot();
    const left = basename(partPath(at('a.record.json'))).replace(`-${process.pid}-`, `-${2 ** 22 + 1}-`);
    mkdirSync(at('a.history'), { recursive: true });
    for (const place of [left, join('a.history', left)]) writeFileSync(at(place), 'half a rec');
    expect(await skippedOf()).toEqual(['a.mp4', 'b.mp4']);
    expect(snapshot()).toEqual(before);
  });
});

describe('worker processes', () => {
  it('one that dies costs its own clip alone, and the next run makes up for it', async () => {
    const place = scratch();
    for (const i of [1, 2, 3, 4, 5, 6]) {
      writeTiny(tiny, join(place, `c${i}.mp4`), 100 + i);
      writeTinyRecipe(tiny, join(place, `c${i}.recipe.json`));
    }
    let killed = 0;
    const ended = await lagreel(['measure', place, '--jobs', '2', '--json'], {
      onStart: (child) => {
        const timer = setInterval(() => {
          const worker = descendants(child.pid!).find((p) => p.name === 'ffmpeg') && workersOf(child.pid!)[0];
          if (worker === undefined) return;
          clearInterval(timer);
          killed = worker;
          process.kill(worker, 'SIGKILL');
        }, 10);
        child.once('close', () => clearInterval(timer));
      },
    });
    expect(killed).toBeGreaterThan(0);
    const document = JSON.parse(ended.out);
    expect(document.failed).toHaveLength(1);
    expect(document.failed[0].error).toMatch(
      /^c\d\.mp4: the process that measured it was ended by SIGKILL: /,
    );
    expect(document.records).toHaveLength(5);
    expect(ended.code).toBe(4);
    const again = JSON.parse((await lagreel(['measure', place, '--json'])).out);
    expect(again.failed).toEqual([]);
    expect(again.skipped).toHaveLength(5);
    expect(listing(place).filter((name) => name.startsWith('.'))).toEqual([]);
  });

  it('go with a run that is stopped, whichever way, and leave no new folder', async () => {
    for (const [signal, toGroup] of [
      ['SIGINT', true],
      ['SIGINT', false],
      ['SIGKILL', false],
    ] as const) {
      const out = join(scratch(), 'new', 'results');
      let workers: number[] = [];
      const ended = await lagreel(['measure', folder, '--again', '--no-cache', '--out', out, '--jobs', '2'], {
        ownGroup: true,
        onStart: (child) => {
          const timer = setInterval(() => {
            workers = workersOf(child.pid!);
            if (workers.length < 2) return;
            clearInterval(timer);
            process.kill(toGroup ? -child.pid! : child.pid!, signal);
          }, 10);
          child.once('close', () => clearInterval(timer));
        },
      });
      expect(workers).toHaveLength(2);
      if (signal === 'SIGINT') {
        expect(ended.code, ended.err).toBe(130);
        expect(ended.said).toEqual(['lagreel: stopped; nothing was written for the clip in progress']);
        expect(existsSync(join(out, '..'))).toBe(false);
      }
      for (let tries = 0; tries < 200 && workers.some(isAlive); tries++) {
        await new Promise((resolve) => setTimeout(resolve, 50));
      }
      expect(workers.filter(isAlive), `${signal}`).toEqual([]);
    }
  });
});

/** Worker processes of a run: its children that are no FFmpeg. */
function workersOf(pid: number): number[] {
  return descendants(pid)
    .filter(
      (p) =>
        p.name !== 'ffmpeg' && readFileSync(`/proc/${p.pid}/cmdline`, 'latin1').includes('measureWorker'),
    )
    .map((p) => p.pid);
}
