/** The command line in this process: words, exit codes, streams. Whole jobs are in tests/end-to-end. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { run } from '../../src/cli/main.js';
import { describeError, progressLine, type Terminal } from '../../src/cli/terminal.js';
import { AnalysisError, UsageError } from '../../src/errors.js';
import { version } from '../../src/version.js';

const folder = mkdtempSync(join(tmpdir(), 'lagreel-cli-test-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

function listener(live = false, width = 100) {
  const said = { out: '', err: '' };
  const terminal: Terminal = {
    out: (text) => {
      said.out += text;
    },
    err: (text) => {
      said.err += text;
    },
    colour: false,
    width,
    live,
  };
  return { said, terminal };
}

async function lagreel(...argv: string[]) {
  const { said, terminal } = listener();
  return { code: await run(argv, terminal), ...said };
}

describe('help', () => {
  it.each([[[]], [['inspect']], [['measure']], [['simulate']]])(
    'of %j shows two examples',
    async (command) => {
      const { code, out, err } = await lagreel(...command, '--help');
      expect({ code, err }).toEqual({ code: 0, err: '' });
      const examples = out.slice(out.indexOf('Examples:')).match(/^ {2}lagreel /gm);
      expect(examples).toHaveLength(2);
    },
  );

  it('names every exit code that a command may give', async () => {
    const { out } = await lagreel('--help');
    for (const code of [0, 1, 2, 3, 4, 5, 130]) expect(out).toMatch(new RegExp(`Exit codes:[^]*\\b${code} `));
  });

  it('is shown where no command is given, as wrong usage', async () => {
    const { code, out, err } = await lagreel();
    expect({ code, out }).toEqual({ code: 2, out: '' });
    expect(err).toContain('Usage: lagreel');
  });

  // Found by the fuzzer (seed 1, document 4031): the value of an option is told twice, by the parser and by the option.
  it.each([
    ['a word', 'x'.repeat(5000)],
    ['words', 'yes '.repeat(2000)],
    ['a quotation', `"${'no '.repeat(2000)}"`],
  ])('%s of a book is cut short in the sentence that refuses it', async (_, book) => {
    for (const argv of [
      ['measure', '--label', book, 'clip.mp4'],
      ['measure', book],
      ['measure', 'clip.mp4', '--session', book],
      [book],
    ]) {
      const { code, err } = await lagreel(...argv);
      expect([2, 3]).toContain(code);
      expect(err.length).toBeLessThan(1000);
      expect(err).toMatch(/^lagreel: .+\n$/);
    }
  });

  it('gives the version', async () => {
    expect(await lagreel('--version')).toEqual({ code: 0, out: `${version}\n`, err: '' });
  });
});

describe('wrong usage is one line and exit code 2', () => {
  it.each([
    ['mesure', 'clip.mp4'],
    ['measur'],
    ['measure'],
    ['measure', 'a.mp4', '--refesh', '60'],
    ['measure', 'a.mp4', '--refresh', '0'],
    ['measure', 'a.mp4', '--refresh'],
    ['measure', 'a.mp4', '--region', 'x'],
    ['measure', 'a.mp4', 'b/../a.mp4'],
    ['inspect', 'a.mp4', 'b.mp4'],
    ['inspect', 'a.mp4', '--out', 'x'],
    ['simulate', 'flash'],
    ['simulate', 'flash', '-o', 'a.avi'],
    ['simulate', 'flash', '-o', 'a.mp4', '--display', 'paper'],
  ])('%s %s %s %s', async (...argv) => {
    const { code, out, err } = await lagreel(...argv);
    expect({ code, out }).toEqual({ code: 2, out: '' });
    expect(err).toMatch(/^lagreel: [^\n]+\n$/);
    expect(err).not.toMatch(/error:|undefined/);
  });

  it('points to the help of the command', async () => {
    expect((await lagreel('measure')).err).toContain('lagreel measure --help');
    expect((await lagreel('nothing')).err).toContain('lagreel --help');
  });

  it('guesses what was meant', async () => {
    expect((await lagreel('measur')).err).toContain('measure');
    expect((await lagreel('measure', 'a.mp4', '--refesh', '60')).err).toContain('--refresh');
  });

  it('shows no control characters of what was typed', async () => {
    const { err } = await lagreel('\u001b[31mred\u0007\n');
    // biome-ignore lint/suspicious/noControlCharactersInRegex: they are what must be gone
    expect(err).not.toMatch(/[\u0000-\u0009\u000b-\u001f]/);
  });
});

describe('a bad clip', () => {
  const text = join(folder, 'notes.mp4');
  writeFileSync(text, 'press, wait, press\n');

  it.each(['measure', 'inspect'])('is one line and exit code 3 in %s', async (command) => {
    const { code, out, err } = await lagreel(command, text);
    expect({ code, out }).toEqual({ code: 3, out: '' });
    expect(err).toMatch(/^lagreel: notes\.mp4 is a text file, not a video\.\n$/);
  });

  it('leaves standard output empty with --json too', async () => {
    expect(await lagreel('measure', text, '--json')).toMatchObject({ code: 3, out: '' });
  });

  it('among several is named, and the JSON document says so', async () => {
    const gone = join(folder, 'gone.mp4');
    const { code, out, err } = await lagreel('measure', text, gone, '--json');
    expect(code).toBe(3);
    expect(err.trimEnd().split('\n')).toHaveLength(3);
    expect(JSON.parse(out)).toMatchObject({ records: [], failed: [{ clip: text }, { clip: gone }] });
  });
});

describe('describeError', () => {
  it('gives the sentence and the code of an expected error', () => {
    expect(describeError(new UsageError('no'))).toEqual({ text: 'no', exitCode: 2 });
    expect(describeError(new AnalysisError('rate-unknown', 'no')).exitCode).toBe(4);
    expect(describeError(new AnalysisError('nothing-measurable', 'no')).exitCode).toBe(4);
    expect(describeError(new AnalysisError('not-a-clip', 'no')).exitCode).toBe(3);
    expect(describeError(new AnalysisError('write-failed', 'no')).exitCode).toBe(2);
  });

  it('names the file where the sentence does not', () => {
    expect(describeError(new UsageError('region is wrong'), 'x/a.mp4').text).toBe('a.mp4: region is wrong');
    expect(describeError(new UsageError('a.mp4 is wrong'), 'x/a.mp4').text).toBe('a.mp4 is wrong');
  });

  it('calls everything else a fault of lagreel, with where it happened', () => {
    const { text, exitCode } = describeError(new TypeError('of undefined'));
    expect(exitCode).toBe(1);
    expect(text).toMatch(/^a fault of lagreel.*\nTypeError: of undefined\n +at /);
    expect(describeError('a bare string').exitCode).toBe(1);
  });
});

describe('progressLine', () => {
  function watched(live: boolean, { quiet = false, width = 100 } = {}) {
    const { said, terminal } = listener(live, width);
    let now = 0;
    const progress = progressLine(terminal, { quiet, file: 'bench/birch.mp4', nowMs: () => now });
    return {
      said,
      progress,
      at: (ms: number) => {
        now = ms;
      },
    };
  }

  it('shows frames done, rate and time left of the stage, over itself on a terminal', () => {
    const { said, progress, at } = watched(true);
    progress.update('finding', 0, 1000);
    at(2000);
    progress.update('finding', 500, 1000);
    expect(said.err.split('\r').at(-1)).toBe(
      'birch.mp4: finding, 500 of 1000 frames, 250 a second, 2 s left',
    );
    progress.update('measuring', 0, 1000);
    at(3000);
    progress.update('measuring', 100, 1000);
    expect(said.err.split('\r').at(-1)).toBe(
      'birch.mp4: measuring, 100 of 1000 frames, 100 a second, 9 s left',
    );
    progress.clear();
    expect(said.err.split('\r').at(-2)!.trim()).toBe('');
    expect(said.err).not.toContain('\n');
    expect(said.out).toBe('');
  });

  it('cuts a line that would wrap, since it could not be drawn over', () => {
    const { said, progress } = watched(true, { width: 30 });
    progress.update('finding regions', 10, 1000);
    expect(said.err).toBe('\rbirch.mp4: finding regions, 1');
  });

  it('says in a log a line every ten seconds, and nothing in a short job', () => {
    const { said, progress, at } = watched(false);
    for (let ms = 0; ms <= 9900; ms += 100) {
      at(ms);
      progress.update('measuring', ms, null);
    }
    expect(said.err).toBe('');
    for (let ms = 10_000; ms <= 30_000; ms += 100) {
      at(ms);
      progress.update('measuring', ms, null);
    }
    progress.clear();
    expect(said.err).toBe(
      [10_000, 20_000, 30_000].map((n) => `birch.mp4: measuring, ${n} frames, 1000 a second\n`).join(''),
    );
  });

  it('says nothing when quiet', () => {
    const { said, progress, at } = watched(true, { quiet: true });
    progress.update('measuring', 1, 2);
    at(20_000);
    progress.update('measuring', 2, 2);
    progress.clear();
    expect(said).toEqual({ out: '', err: '' });
  });
});
