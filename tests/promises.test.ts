/** Holds the table of promises in DEVELOPERS.md to the tests: each names a file and words that stand in a test of it. */
import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { expect, it } from 'vitest';
import { inlineCode, table } from './markdown.js';

const root = fileURLToPath(new URL('..', import.meta.url));
const rows = table(readFileSync(join(root, 'DEVELOPERS.md'), 'utf8'), '<!-- promises');

it('there are promises', () => expect(rows.length).toBeGreaterThan(30));

it.each(rows.map(([promise, file, words]) => [promise!, inlineCode(file!)[0]!, words!] as const))(
  '%s: %s',
  (_, file, words) => {
    expect(existsSync(join(root, file)), file).toBe(true);
    expect(readFileSync(join(root, file), 'utf8')).toContain(words);
  },
);
