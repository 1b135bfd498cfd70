/**
 * The package as a person gets it: `npm pack` of a clean copy, a global install of the tarball into an empty prefix,
 * `lagreel measure` there; the examples against the installed library. The registry is asked only for what npm's cache
 * does not hold; install scripts do not run (one of them would download a program from elsewhere).
 */
import { execFileSync } from 'node:child_process';
import { cpSync, existsSync, mkdirSync, readdirSync, readFileSync, symlinkSync } from 'node:fs';
import { delimiter, dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { beforeAll, describe, expect, it } from 'vitest';
import { copySample, sample, scratch } from './program.js';

const root = fileURLToPath(new URL('../..', import.meta.url));
const PARTS = ['package.json', 'tsconfig.json', 'README.md', 'LICENSE', 'bin', 'schemas', 'src', 'tests'];
const NAME = 'cedar-sprite';
const prefix = scratch();
const installed = join(prefix, 'lib', 'node_modules', 'lagreel');
let tarball: string;

function exec(program: string, args: readonly string[], cwd: string, env: NodeJS.ProcessEnv = {}): string {
  return execFileSync(program, [...args], {
    cwd,
    encoding: 'utf8',
    env: { ...process.env, NO_COLOR: '1', npm_config_fund: 'false', npm_config_audit: 'false', ...env },
    stdio: ['ignore', 'pipe', 'pipe'],
  });
}

beforeAll(() => {
  const copy = join(scratch(), 'copy');
  mkdirSync(copy);
  for (const part of PARTS) cpSync(join(root, part), join(copy, part), { recursive: true });
  symlinkSync(join(root, 'node_modules'), join(copy, 'node_modules'));
  const [packed] = JSON.parse(exec('npm', ['pack', '--json', '--silent'], copy).replace(/^[^[]*/, ''));
  tarball = join(copy, packed.filename);
  exec(
    'npm',
    ['install', '--global', '--prefix', prefix, '--prefer-offline', '--ignore-scripts', tarball],
    prefix,
  );
});

const PATH = () => [join(prefix, 'bin'), dirname(process.execPath), '/usr/bin', '/bin'].join(delimiter);

describe('the installed package', () => {
  it('holds what it needs and nothing else', () => {
    const files = readdirSync(installed).filter((name) => name !== 'node_modules');
    expect(files.sort()).toEqual([
      'LICENSE',
      'README.md',
      'bin',
      'dist',
      'package.json',
      'schemas',
      'src',
      'tests',
    ]);
    expect(readdirSync(join(installed, 'src')).sort()).toEqual(['changelog.md', 'recipes-for-clusters']);
    expect(readdirSync(join(installed, 'tests'))).toEqual(['examples']);
    expect(readdirSync(join(installed, 'tests/examples')).every((name) => name.endsWith('.mjs'))).toBe(true);
    expect(existsSync(join(installed, 'dist/demo'))).toBe(false);
    expect(readFileSync(join(installed, 'dist/api.md'), 'utf8')).toContain('### measureFile');
  });

  it('measures a sample clip from any folder', () => {
    const folder = scratch();
    copySample(NAME, folder);
    const args = ['measure', `${NAME}.mp4`, '--recipe', sample(`${NAME}.recipe.json`), '--json'];
    const record = JSON.parse(exec('lagreel', args, folder, { PATH: PATH() }));
    expect(record.summary.screen.n).toBeGreaterThan(10);
    expect(readdirSync(folder)).toHaveLength(6);
    const again = JSON.parse(
      exec('lagreel', ['measure', '.', '--jobs', '2', '--json'], folder, { PATH: PATH() }),
    );
    expect(again.skipped).toEqual([`${NAME}.mp4`]);
    expect(exec('lagreel', ['help', 'changes'], folder, { PATH: PATH() })).toContain('0.1.0');
    expect(exec('lagreel', ['completion', 'bash'], folder, { PATH: PATH() })).toContain(
      'complete -o filenames',
    );
  });

  it('runs both examples, by the typed library', () => {
    const folder = scratch();
    const clip = copySample(NAME, folder);
    const examples = join(installed, 'tests/examples');
    const said = exec(
      process.execPath,
      [join(examples, 'measureClip.mjs'), clip, sample(`${NAME}.recipe.json`)],
      folder,
    );
    expect(said).toMatch(
      /^screen: fixed delay \d+\.\d ms \(.* to .*\), \d+ presses\nReport: .*cedar-sprite\.report\.html\n$/,
    );
    const record = join(folder, `${NAME}.record.json`);
    const compared = JSON.parse(
      exec(process.execPath, [join(examples, 'compareRecords.mjs'), 'chain=Cedar', record], folder),
    );
    expect(compared.format).toBe('lagreel-comparison');
    expect(existsSync(join(installed, 'dist/node.d.ts'))).toBe(true);
  });
});

describe('the Makefile for clusters', () => {
  it('measures each clip once, and again where the clip is newer', () => {
    const folder = scratch();
    copySample(NAME, folder, 'a.mp4');
    copySample(NAME, folder, 'b.mp4');
    const makefile = join(installed, 'src/recipes-for-clusters/Makefile');
    const make = () => {
      const args = ['-f', makefile, '-k', '-j', '2', `CLIPS=${folder}`, `RESULTS=${join(folder, 'out')}`];
      return exec('make', args, folder, { PATH: PATH() });
    };
    expect(make().match(/lagreel measure/g)).toHaveLength(2);
    for (const name of ['a', 'b']) expect(existsSync(join(folder, 'out', `${name}.report.html`))).toBe(true);
    expect(make()).toContain('Nothing to be done');
    copySample(NAME, folder, 'b.mp4');
    expect(make().match(/lagreel measure/g)).toHaveLength(1);
  });
});
