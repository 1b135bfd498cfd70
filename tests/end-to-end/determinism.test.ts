/** The same clip gives the same bytes anywhere, and the streams and files are as the help promises. */
import { spawn } from 'node:child_process';
import { copyFileSync, existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { beforeAll, describe, expect, it } from 'vitest';
import { copySample, lagreel, listing, sample, scratch } from './program.js';

const BIN = fileURLToPath(new URL('../../bin/lagreel.js', import.meta.url));
/** The smallest sample clip. */
const NAME = 'cedar-sprite';
const KNOWN = ['--recipe', sample(`${NAME}.recipe.json`)];
const RESULTS = ['presses.csv', 'recipe.json', 'record.json', 'regions.jpg', 'report.html'];
const read = (...path: string[]) => readFileSync(join(...path));
const results = (name: string) => RESULTS.map((end) => `${name}.${end}`);

describe('the same clip in two folders', () => {
  const first = scratch();
  // Spaces, letters beyond ASCII, and what a shell or FFmpeg might take for its own.
  const second = join(scratch(), "Prüfstand – 試験 'n° 2' %d [a]");
  const runs: { out: string; err: string }[] = [];

  beforeAll(async () => {
    mkdirSync(second);
    for (const folder of [first, second]) {
      const ended = await lagreel(['measure', copySample(NAME, folder), '--json'], { cwd: folder });
      expect(ended.code, ended.err).toBe(0);
      runs.push(ended);
    }
  });

  it.each(RESULTS)('gives the same bytes of %s', (end) => {
    expect(read(first, `${NAME}.${end}`).equals(read(second, `${NAME}.${end}`))).toBe(true);
  });

  it.each(['record.json', 'presses.csv', 'recipe.json', 'report.html'])('names no folder in %s', (end) => {
    const text = read(second, `${NAME}.${end}`).toString();
    for (const part of [first, second, 'Prüfstand', process.cwd()]) expect(text).not.toContain(part);
  });

  it('holds no date in the record', () => {
    const text = read(first, `${NAME}.record.json`).toString();
    // FFmpeg's own version line names years; nothing else may.
    const own = JSON.parse(text);
    delete own.tool.ffmpeg;
    expect(JSON.stringify(own)).not.toMatch(/\b20\d\d-\d\d/);
  });

  it('leaves exactly the promised files beside the clip', () => {
    expect(listing(second)).toEqual([`${NAME}.mp4`, ...results(NAME)].sort());
  });

  it('prints with --json exactly the record file', () => {
    expect(runs[1]!.out).toBe(read(second, `${NAME}.record.json`).toString());
    expect(() => JSON.parse(runs[1]!.out)).not.toThrow();
  });

  it('measures the same again from the recipe that it wrote', async () => {
    const before = read(first, `${NAME}.record.json`);
    const ended = await lagreel(['measure', join(first, `${NAME}.mp4`), '--quiet']);
    expect(ended).toMatchObject({ code: 0, out: '', err: '' });
    const [then, now] = [before, read(first, `${NAME}.record.json`)].map((b) => JSON.parse(b.toString()));
    expect(now.presses).toEqual(then.presses);
    expect(now.summary).toEqual(then.summary);
  });
});

describe('recipes', () => {
  it('are not overwritten, but with --update-recipe', async () => {
    const folder = scratch();
    const clip = copySample(NAME, folder);
    const recipe = join(folder, `${NAME}.recipe.json`);
    copyFileSync(sample(`${NAME}.recipe.json`), recipe);
    const before = readFileSync(recipe, 'utf8');
    const plain = await lagreel(['measure', clip, '--refresh', '59.94', '--quiet']);
    expect(plain.code, plain.err).toBe(0);
    expect(readFileSync(recipe, 'utf8')).toBe(before);
    expect(JSON.parse(read(folder, `${NAME}.record.json`).toString()).recipe.display.refreshHz).toBe(59.94);
    const asked = await lagreel(['measure', clip, '--refresh', '59.94', '--quiet', '--update-recipe']);
    expect(asked.code, asked.err).toBe(0);
    const after = JSON.parse(readFileSync(recipe, 'utf8'));
    expect(after).toEqual({ ...JSON.parse(before), display: { refreshHz: 59.94 } });
  });

  it('beside the clip are obeyed where the results go elsewhere, and --no-recipe leaves them aside', async () => {
    const folder = scratch();
    const clip = copySample(NAME, folder);
    const own = JSON.parse(readFileSync(sample(`${NAME}.recipe.json`), 'utf8'));
    writeFileSync(join(folder, `${NAME}.recipe.json`), JSON.stringify({ ...own, labels: { chain: 'Mine' } }));
    const before = listing(folder);
    const out = join(scratch(), 'new', 'results');
    const obeyed = await lagreel(['measure', clip, '--out', out, '--json']);
    expect(obeyed.code, obeyed.err).toBe(0);
    expect(JSON.parse(obeyed.out).recipe.labels).toEqual({ chain: 'Mine' });
    expect(listing(out)).toEqual(results(NAME));
    const anew = await lagreel(['measure', clip, '--out', scratch(), '--json', '--no-recipe']);
    expect(anew.code, anew.err).toBe(0);
    expect(JSON.parse(anew.out).recipe.labels).toEqual({});
    expect(listing(folder)).toEqual(before);
  });
});

describe('several clips', () => {
  it('go on after a bad one and end with its exit code', async () => {
    const folder = scratch();
    const clips = [
      copySample(NAME, folder, 'one.mp4'),
      join(folder, 'two.mp4'),
      copySample(NAME, folder, 'three.mp4'),
    ];
    writeFileSync(clips[1]!, 'no clip at all\n');
    const pattern = JSON.parse(readFileSync(sample(`${NAME}.recipe.json`), 'utf8'));
    const recipe = join(scratch(), 'pattern.json');
    writeFileSync(recipe, JSON.stringify({ ...pattern, clip: { file: '', sha256: '', bytes: 0 } }));
    const ended = await lagreel(['measure', ...clips, '--recipe', recipe, '--json']);
    expect(ended.code, ended.err).toBe(3);
    expect(ended.said[0]).toMatch(/^lagreel: two\.mp4 is a text file/);
    expect(ended.said[1]).toMatch(/^lagreel: 1 of 3 clips failed: .*two\.mp4$/);
    const document = JSON.parse(ended.out);
    expect(document.records.map((r: { clip: { file: string } }) => r.clip.file)).toEqual([
      'one.mp4',
      'three.mp4',
    ]);
    expect(document.failed).toMatchObject([{ clip: clips[1], exitCode: 3 }]);
    expect(listing(folder)).toEqual(
      ['one.mp4', 'two.mp4', 'three.mp4', ...results('one'), ...results('three')].sort(),
    );
  });
});

describe('standard output', () => {
  it('gives the answer first, then where everything is written', async () => {
    const folder = scratch();
    const ended = await lagreel(['measure', copySample(NAME, folder), ...KNOWN], { cwd: folder });
    expect(ended.code, ended.err).toBe(0);
    const [title, answer] = ended.out.split('\n');
    expect(title).toMatch(/^screen · chain: Cedar/);
    expect(answer).toMatch(/lag/);
    expect(answer).toMatch(/\d ms/);
    for (const end of RESULTS) expect(ended.out).toContain(join(folder, `${NAME}.${end}`));
    // biome-ignore lint/suspicious/noControlCharactersInRegex: no colour where the stream is no terminal
    expect(ended.out).not.toMatch(/\u001b/);
  });

  it.each([1, 0])('may be closed after %i lines, and the files are written all the same', async (count) => {
    const folder = scratch();
    const clip = copySample(NAME, folder);
    const script = 'set -o pipefail; "$0" "$1" measure "$2" --recipe "$3" --json | head -n "$4"';
    const paths = [process.execPath, BIN, clip, sample(`${NAME}.recipe.json`), String(count)];
    const shell = spawn('bash', ['-c', script, ...paths], { stdio: ['ignore', 'pipe', 'pipe'] });
    let err = '';
    shell.stdout.resume();
    shell.stderr.setEncoding('utf8').on('data', (text: string) => {
      err += text;
    });
    const code = await new Promise((resolve) => shell.once('close', resolve));
    expect(err).not.toMatch(/EPIPE|fault|Error/);
    expect(code).toBe(0);
    expect(existsSync(join(folder, `${NAME}.report.html`))).toBe(true);
  });
});

describe('simulate', () => {
  it('gives the same clip and truth for the same seed, and another for another', async () => {
    const folder = scratch();
    const make = async (sub: string, seed: string) => {
      const clip = join(folder, sub, 'demo.mp4');
      const size = ['--presses', '2', '--size', '160x120', '--seed', seed];
      const ended = await lagreel(['simulate', 'flash', ...size, '-o', clip, '--quiet']);
      expect(ended).toMatchObject({ code: 0, out: '', err: '' });
      return readFileSync(clip);
    };
    const clip = await make('a', '7');
    expect((await make('b', '7')).equals(clip)).toBe(true);
    expect((await make('c', '8')).equals(clip)).toBe(false);
    expect(read(folder, 'a', 'demo.truth.json').equals(read(folder, 'b', 'demo.truth.json'))).toBe(true);
    expect(listing(join(folder, 'a'))).toEqual(['demo.mp4', 'demo.truth.json']);
  });
});
