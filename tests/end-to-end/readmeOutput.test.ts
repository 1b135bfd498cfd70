/** The result that the README shows is what the demo prints: the words exactly, the numbers as near as it matters. */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { expect, it } from 'vitest';
import { codeBlocks } from '../markdown.js';

/** A shown number may differ by this much (ms, mostly) before the README has to be brought up to date. */
const NEAR = 0.5;

const root = fileURLToPath(new URL('../..', import.meta.url));
const NUMBER = /\d+(?:\.\d+)?/g;
const words = (line: string) => line.replace(NUMBER, '#').replace(/ +/g, ' ').trim();
const numbers = (line: string) => (line.match(NUMBER) ?? []).map(Number);

it('README shows what the demo prints', () => {
  const folder = mkdtempSync(join(tmpdir(), 'lagreel-readme-'));
  try {
    const shown = codeBlocks(readFileSync(join(root, 'README.md'), 'utf8'), 'text')[0]!
      .split('\n')
      .filter((line) => line.trim() !== '' && line !== '…');
    expect(shown.length).toBeGreaterThan(10);
    const clip = 'sample-clips/alder-flat';
    const printed = execFileSync(
      process.execPath,
      ['bin/lagreel.js', 'measure', `${clip}.mp4`, '--recipe', `${clip}.recipe.json`, '--out', folder],
      { cwd: root, encoding: 'utf8', stdio: ['ignore', 'pipe', 'ignore'] },
    )
      .replaceAll(folder, 'dist/demo')
      .split('\n');
    for (const line of shown) {
      const same = printed.filter((candidate) => words(candidate) === words(line));
      const near = same.some((candidate) =>
        numbers(candidate).every((value, i) => Math.abs(value - numbers(line)[i]!) <= NEAR),
      );
      expect(near, `not printed by the demo (run npm run demo and copy it):\n${line}`).toBe(true);
    }
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
});
