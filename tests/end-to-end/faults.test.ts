/**
 * What goes wrong around a run: a full disk, a folder that goes away, a clip that is still being written, a decoder that
 * is killed, two runs at once, clocks that jump. Nothing lost, nothing half-written, one sentence. Linux only.
 */
import { execFileSync, spawn } from 'node:child_process';
import {
  appendFileSync,
  copyFileSync,
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  rmSync,
  utimesSync,
  writeFileSync,
} from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterEach, describe, expect, it } from 'vitest';
import {
  copySample,
  descendants,
  type Ended,
  isAlive,
  lagreel,
  listing,
  sample,
  scratch,
} from './program.js';

const BIN = fileURLToPath(new URL('../../bin/lagreel.js', import.meta.url));
const mounts: string[] = [];
afterEach(() => {
  for (const place of mounts.splice(0)) execFileSync('umount', [place]);
});

/** A file system of its own with so many bytes; null where this user may not mount one. */
function smallDisk(bytes: number): string | null {
  const place = scratch();
  try {
    execFileSync('mount', ['-t', 'tmpfs', '-o', `size=${bytes}`, 'tmpfs', place], { stdio: 'ignore' });
  } catch {
    return null;
  }
  mounts.push(place);
  return place;
}

/** The program under a limit on the size of any file it writes, in kB. */
function limited(kB: number, args: readonly string[]): Promise<Ended> {
  return new Promise((resolve, reject) => {
    const child = spawn(
      'bash',
      ['-c', `ulimit -f ${kB}; exec "$@"`, 'bash', process.execPath, BIN, ...args],
      {
        stdio: ['ignore', 'pipe', 'pipe'],
        env: { ...process.env, NO_COLOR: '1' },
      },
    );
    let out = '';
    let err = '';
    child.stdout.on('data', (piece) => {
      out += piece;
    });
    child.stderr.on('data', (piece) => {
      err += piece;
    });
    child.once('error', reject);
    child.once('close', (code) =>
      resolve({ code, out, err, said: err.split('\n').filter((line) => line !== '') }),
    );
  });
}

function expectOneSentence(ended: Ended, code: number, says: RegExp): void {
  expect(ended.code, ended.err).toBe(code);
  expect(ended.said, ended.err).toHaveLength(1);
  expect(ended.said[0]).toMatch(says);
  expect(ended.err).not.toMatch(/a fault of lagreel|^\s+at /m);
}

/** Every file of a folder is whole: JSON parses, the page has its end, nothing is a part of a file. */
function expectWhole(folder: string): void {
  for (const name of listing(folder)) {
    expect(name).not.toMatch(/\.part$|\.lagreel-/);
    const text = () => readFileSync(join(folder, name), 'latin1');
    if (name.endsWith('.json')) expect(() => JSON.parse(text())).not.toThrow();
    if (name.endsWith('.html')) expect(text()).toMatch(/<\/html>\s*$/);
    if (name.endsWith('.csv')) expect(text()).toMatch(/\r\n$/);
  }
}

const alder = (clip: string, out: string) => [
  'measure',
  clip,
  '--recipe',
  sample('alder-flat.recipe.json'),
  '--out',
  out,
  '--quiet',
];

/** Runs `measure` and calls `act` with the program's FFmpeg at work. */
async function during(args: readonly string[], act: (ffmpegs: readonly number[]) => void): Promise<Ended> {
  let acted = false;
  const ended = await lagreel(args, {
    onStart: (child) => {
      const look = setInterval(() => {
        const working = descendants(child.pid!).filter((p) => p.name === 'ffmpeg' && hasPipes(p.pid));
        if (working.length === 0 || acted) return;
        acted = true;
        clearInterval(look);
        act(working.map((p) => p.pid));
      }, 5);
      child.once('close', () => clearInterval(look));
    },
  });
  expect(acted, 'the run ended before anything was done to it').toBe(true);
  return ended;
}

/** True for an FFmpeg that hands out frames (it was given pixels to cut out). */
function hasPipes(pid: number): boolean {
  try {
    return readFileSync(`/proc/${pid}/cmdline`, 'latin1').includes('rawvideo');
  } catch {
    return false;
  }
}

describe('a disk that is full', () => {
  it('before anything is written: one sentence, and the earlier results stay as they were', async () => {
    const folder = scratch();
    const clip = copySample('alder-flat', folder);
    const out = join(folder, 'out');
    mkdirSync(out);
    writeFileSync(join(out, 'alder-flat.record.json'), '{"of":"an earlier run"}');
    for (const kB of [0, 4, 16, 64]) {
      const ended = await limited(kB, [...alder(clip, out), '--no-cache']);
      expectOneSentence(ended, 2, /cannot write .*\(the system allows no file of that size\)/);
      expectWhole(out);
      const kept = listing(out)
        .filter((name) => /record\.json$/.test(name))
        .map((name) => readFileSync(join(out, name), 'utf8'));
      expect(kept).toContain('{"of":"an earlier run"}');
    }
  });

  it('a real one, and a cache that does not fit: measured all the same, or one sentence', async () => {
    const disk = smallDisk(40_000);
    const folder = scratch();
    const clip = copySample('alder-flat', folder);
    // Only root may mount; for others the limit on file sizes above stands for the full disk.
    if (disk === null) return expect(process.getuid?.()).not.toBe(0);
    const ended = await lagreel([...alder(clip, join(disk, 'out'))]);
    expectOneSentence(ended, 2, /cannot write .*\(the disk is full\)/);
    expectWhole(disk);
    const cache = smallDisk(8000)!;
    const loud = alder(clip, join(folder, 'out')).filter((word) => word !== '--quiet');
    const other = await lagreel(loud, { env: { XDG_CACHE_HOME: cache } });
    expect(other.code, other.err).toBe(0);
    expect(other.err).toMatch(/the samples could not be kept in .*the next run decodes again/);
    expect(listing(cache).filter((name) => /samples$|part$/.test(name) && !/samples$/.test(name))).toEqual(
      [],
    );
    expectWhole(join(folder, 'out'));
  });
});

describe('files that change under a run', () => {
  it('the folder of the results vanishes: one sentence, and it does not come back half-filled', async () => {
    const folder = scratch();
    const out = join(folder, 'out');
    const ended = await during([...alder(copySample('alder-flat', folder), out), '--no-cache'], () =>
      rmSync(out, { recursive: true }),
    );
    expectOneSentence(ended, 2, /cannot write .*choose another folder/);
    if (existsSync(out)) expectWhole(out);
  });

  it('the clip vanishes while it is read: said, and nothing written', async () => {
    const folder = scratch();
    const clip = copySample('alder-flat', folder);
    const out = join(folder, 'out');
    const ended = await during([...alder(clip, out), '--no-cache'], () => rmSync(clip));
    expectOneSentence(ended, 3, /alder-flat\.mp4 changed or went away while it was read/);
    expect(listing(folder)).toEqual([]);
  });

  it('the clip grows while it is read: said, and nothing written', async () => {
    const folder = scratch();
    const clip = copySample('alder-flat', folder);
    const out = join(folder, 'out');
    const ended = await during([...alder(clip, out), '--no-cache'], () => appendFileSync(clip, 'more'));
    expectOneSentence(ended, 3, /alder-flat\.mp4 changed or went away while it was read/);
    expect(listing(folder)).toEqual(['alder-flat.mp4']);
  });
});

describe('a decoder that dies', () => {
  it('killed at work: one sentence, nothing written, nothing left running', async () => {
    const folder = scratch();
    let pids: readonly number[] = [];
    const args = [...alder(copySample('alder-flat', folder), join(folder, 'out')), '--no-cache'];
    const ended = await during(args, (ffmpegs) => {
      pids = ffmpegs;
      for (const pid of ffmpegs) process.kill(pid, 'SIGKILL');
    });
    expectOneSentence(ended, 3, /could not decode alder-flat\.mp4 to its end/);
    expect(listing(folder)).toEqual(['alder-flat.mp4']);
    expect(pids.filter(isAlive)).toEqual([]);
  });

  it('the program killed at work: its decoder goes with it, and no file is half-written', async () => {
    const folder = scratch();
    let pids: readonly number[] = [];
    let program = 0;
    const out = join(folder, 'out');
    const ended = await new Promise<number | null>((resolve) => {
      const child = spawn(
        process.execPath,
        [BIN, ...alder(copySample('alder-flat', folder), out), '--no-cache'],
        { stdio: 'ignore' },
      );
      program = child.pid!;
      const look = setInterval(() => {
        pids = descendants(program)
          .filter((p) => p.name === 'ffmpeg' && hasPipes(p.pid))
          .map((p) => p.pid);
        if (pids.length === 0) return;
        clearInterval(look);
        child.kill('SIGKILL');
      }, 5);
      child.once('close', (code) => {
        clearInterval(look);
        resolve(code);
      });
    });
    expect(ended).toBeNull();
    expect(pids.length).toBeGreaterThan(0);
    await expect.poll(() => pids.filter(isAlive), { timeout: 10_000 }).toEqual([]);
    expect(existsSync(out) ? listing(out) : []).toEqual([]);
  });
});

describe('two runs at once', () => {
  it('on the same clip, folder and cache: both succeed, and the files are of one piece', async () => {
    const folder = scratch();
    const clip = copySample('alder-flat', folder);
    const out = join(folder, 'out');
    const cache = scratch();
    const env = { XDG_CACHE_HOME: cache };
    const run = () => lagreel(alder(clip, out), { env });
    const alone = join(folder, 'alone');
    expect((await lagreel([...alder(clip, alone), '--no-cache'])).code).toBe(0);
    const ended = await Promise.all([run(), run(), lagreel(['cache', '--clear'], { env }), run()]);
    expect(ended.map(({ code, err }) => [code, err])).toEqual(ended.map(() => [0, '']));
    expectWhole(out);
    for (const name of listing(alone))
      expect(readFileSync(join(out, name)), name).toEqual(readFileSync(join(alone, name)));
    expect(readdirSync(join(cache, 'lagreel', 'samples')).filter((name) => name.endsWith('.part'))).toEqual(
      [],
    );
  });

  it('on two clips of one folder: each has its own results', async () => {
    const folder = scratch();
    copyFileSync(sample('alder-flat.mp4'), join(folder, 'a.mp4'));
    copyFileSync(sample('birch-variable.mp4'), join(folder, 'b.mp4'));
    const recipes = { a: 'alder-flat', b: 'birch-variable' };
    const ended = await Promise.all(
      Object.entries(recipes).map(([name, recipe]) =>
        lagreel([
          'measure',
          join(folder, `${name}.mp4`),
          '--recipe',
          sample(`${recipe}.recipe.json`),
          '--quiet',
        ]),
      ),
    );
    expect(ended.map(({ code, err }) => [code, err])).toEqual([
      [0, ''],
      [0, ''],
    ]);
    expectWhole(folder);
    for (const name of Object.keys(recipes))
      expect(JSON.parse(readFileSync(join(folder, `${name}.record.json`), 'utf8')).clip.file).toBe(
        `${name}.mp4`,
      );
  });
});

describe('clocks that jump', () => {
  it('files and cache entries from the future or 1970 change nothing', async () => {
    const folder = scratch();
    const clip = copySample('alder-flat', folder);
    const env = { XDG_CACHE_HOME: scratch() };
    const results: string[] = [];
    for (const when of [null, 4e9, 1]) {
      if (when !== null) {
        utimesSync(clip, when, when);
        const samples = join(env.XDG_CACHE_HOME, 'lagreel', 'samples');
        for (const name of readdirSync(samples)) utimesSync(join(samples, name), when, when);
      }
      const out = join(folder, `out-${when}`);
      expect((await lagreel(alder(clip, out), { env })).code).toBe(0);
      results.push(readFileSync(join(out, 'alder-flat.record.json'), 'utf8'));
    }
    expect(new Set(results).size).toBe(1);
  });
});
