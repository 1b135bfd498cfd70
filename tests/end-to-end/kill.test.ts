/**
 * The process is killed (SIGKILL, the whole group) at 50 random moments of folder runs: afterwards no file is
 * half-written, no decision lost, and the run that is at last let through ends with the bytes of one never disturbed.
 */
import {
  type FSWatcher,
  mkdirSync,
  readdirSync,
  readFileSync,
  statSync,
  watch,
  writeFileSync,
} from 'node:fs';
import { join } from 'node:path';
import { beforeAll, expect, it } from 'vitest';
import { lagreel, scratch } from './program.js';
import { type TinyClip, tinyClip, writeTiny, writeTinyRecipe } from './tinyClips.js';

const KILLS = 50;
const SEED = 20_240_607;
const CLIPS = 3;
/** Before this nothing has begun but Node itself. */
const EARLIEST_MS = 150;

type Files = ReadonlyMap<string, string>;

let tiny: TinyClip;
/** A folder never measured, and one measured before whose recipes have changed since. */
const begun: { name: string; before: Files; after: Files }[] = [];
let fullMs = 0;

function filesOf(folder: string): Map<string, string> {
  const names = readdirSync(folder, { recursive: true, encoding: 'utf8' }).sort();
  return new Map(
    names
      .filter((name) => statSync(join(folder, name)).isFile())
      .map((name) => [name, readFileSync(join(folder, name)).toString('base64')]),
  );
}

function folderOf(files: Files): string {
  const folder = scratch();
  for (const [name, bytes] of files) {
    mkdirSync(join(folder, name, '..'), { recursive: true });
    writeFileSync(join(folder, name), Buffer.from(bytes, 'base64'));
  }
  return folder;
}

const isHidden = (name: string) => name.split('/').at(-1)!.startsWith('.');

/** Uniform from 0 to 1, mulberry32. */
function randomOf(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = Math.imul(state ^ (state >>> 15), state | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
}

const run = (folder: string) => {
  const regions = tiny.regions.map((r) => `${r.name}=${r.role}:${r.x},${r.y},${r.width},${r.height}`);
  return ['measure', folder, '--jobs', '2', '--quiet', ...regions.flatMap((r) => ['--region', r])];
};

async function undisturbed(before: Files): Promise<Files> {
  const folder = folderOf(before);
  const atMs = performance.now();
  const ended = await lagreel(run(folder));
  fullMs = Math.max(fullMs, performance.now() - atMs);
  expect([0, 4], ended.err).toContain(ended.code);
  return filesOf(folder);
}

beforeAll(async () => {
  tiny = await tinyClip();
  const fresh = scratch();
  for (let i = 0; i < CLIPS; i++) writeTiny(tiny, join(fresh, `c${i}.mp4`), i);
  writeFileSync(join(fresh, 'session.csv'), 'file,chain\nc0.mp4,Alder\nc1.mp4,Birch\n');
  // The last clip has no recipe: it is written at the very end.
  for (let i = 0; i < CLIPS - 1; i++) writeTinyRecipe(tiny, join(fresh, `c${i}.recipe.json`));
  const first = filesOf(fresh);
  const measured = await undisturbed(first);
  begun.push({ name: 'never measured', before: first, after: measured });
  const changed = folderOf(measured);
  const { presses } = JSON.parse(readFileSync(join(changed, 'c0.record.json'), 'utf8'));
  for (let i = 0; i < CLIPS - 1; i++) {
    const decisions = [{ pressAtS: presses[0].ledOnsetS, decision: 'exclude', reason: 'two buttons' }];
    writeTinyRecipe(tiny, join(changed, `c${i}.recipe.json`), { decisions });
  }
  const second = filesOf(changed);
  begun.push({ name: 'recipes changed', before: second, after: await undisturbed(second) });
  expect([...begun[1]!.after.keys()].filter((name) => name.includes('.history/'))).toHaveLength(CLIPS - 1);
});

/** One run, killed after a time or after so many changes in the folder; true where it was over before. */
async function killedRun(folder: string, random: () => number): Promise<boolean> {
  const afterMs = EARLIEST_MS + random() * fullMs;
  const byChanges = random() < 0.5;
  let changesLeft = byChanges ? 1 + Math.floor(random() * 12 * CLIPS) : Number.POSITIVE_INFINITY;
  let watcher: FSWatcher | undefined;
  let timer: NodeJS.Timeout | undefined;
  const ended = await lagreel(run(folder), {
    ownGroup: true,
    onStart: (child) => {
      const kill = () => {
        try {
          process.kill(-child.pid!, 'SIGKILL');
        } catch {
          // Over before.
        }
      };
      if (byChanges) {
        watcher = watch(folder, () => {
          changesLeft -= 1;
          if (changesLeft === 0) kill();
        });
      } else timer = setTimeout(kill, afterMs);
    },
  });
  watcher?.close();
  clearTimeout(timer);
  return ended.code !== null;
}

it(`${KILLS} kills leave whole files, every decision, and nothing that the next run does not mend`, async () => {
  const random = randomOf(SEED);
  let kills = 0;
  let folders = 0;
  let leftovers = 0;
  const kinds = { fresh: 0, mixed: 0, complete: 0 };
  while (kills < KILLS) {
    const { name, before, after } = begun[folders % begun.length]!;
    folders += 1;
    const folder = folderOf(before);
    const where = () => `seed ${SEED}, folder ${folders} (${name}), kill ${kills}`;
    // Killed again and again, each run going on from what the last one left, until one comes through or the count is full.
    for (let isOver = false; !isOver && kills < KILLS; ) {
      isOver = await killedRun(folder, random);
      if (!isOver) kills += 1;
      const now = filesOf(folder);
      for (const [file, bytes] of now) {
        if (isHidden(file)) {
          leftovers += 1;
          continue;
        }
        const whole = [before.get(file), after.get(file)].filter((b) => b !== undefined);
        expect(whole.includes(bytes), `${file} is whole: ${where()}`).toBe(true);
      }
      for (const [file, bytes] of before) {
        // What a person wrote: clips, recipes, the session table.
        const isInput = /\.mp4$|session\.csv$|\.recipe\.json$/.test(file);
        expect(now.has(file), `${file} is there: ${where()}`).toBe(true);
        if (isInput) expect(now.get(file) === bytes, `${file} as it was: ${where()}`).toBe(true);
      }
      const left = [...after].filter(([file, bytes]) => now.get(file) !== bytes).length;
      const begins = [...after].filter(([file, bytes]) => before.get(file) !== bytes).length;
      kinds[left === begins ? 'fresh' : left === 0 ? 'complete' : 'mixed'] += 1;
    }
    await lagreel(run(folder));
    const ended = filesOf(folder);
    expect([...ended.keys()], where()).toEqual([...after.keys()]);
    for (const [file, bytes] of after) expect(ended.get(file) === bytes, `${file}: ${where()}`).toBe(true);
  }
  console.log(
    `${kills} kills over ${folders} folders (an undisturbed run takes ${(fullMs / 1000).toFixed(1)} s): ` +
      `${kinds.fresh} before any result, ${kinds.mixed} between, ${kinds.complete} after all; ` +
      `${leftovers} half-written hidden files left, all taken away by the next run`,
  );
  // The moments are of use only where they fall into the work.
  expect(kinds.mixed).toBeGreaterThan(KILLS / 4);
});
