/** One version: package.json, the lock file, the source, and what the command line answers. */
import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { run } from '../src/cli/main.js';
import { version } from '../src/version.js';

const json = (name: string) => JSON.parse(readFileSync(new URL(`../${name}`, import.meta.url), 'utf8'));

it('src/version.ts, package.json and the lock file name the same version', () => {
  expect(version).toMatch(/^\d+\.\d+\.\d+(-[\w.]+)?$/);
  expect(json('package.json').version).toBe(version);
  const lock = json('package-lock.json');
  expect(lock.version).toBe(version);
  expect(lock.packages[''].version).toBe(version);
});

it('lagreel --version prints it, and nothing else', async () => {
  const out: string[] = [];
  const terminal = {
    out: (text: string) => out.push(text),
    err: (text: string) => out.push(`err: ${text}`),
    colour: false,
    width: 80,
    live: false,
  };
  expect(await run(['--version'], terminal)).toBe(0);
  expect(out.join('')).toBe(`${version}\n`);
});
