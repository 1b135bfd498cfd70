/** The Snakefile of `src/recipes-for-clusters`, by a real Snakemake where there is one; the Makefile is in pack.test.ts. */
import { spawnSync } from 'node:child_process';
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { expect, it } from 'vitest';
import { scratch } from './program.js';
import { tinyClip, writeTiny, writeTinyRecipe } from './tinyClips.js';

const snakefile = fileURLToPath(new URL('../../src/recipes-for-clusters/Snakefile', import.meta.url));
const bin = fileURLToPath(new URL('../../bin/lagreel.js', import.meta.url));
const hasSnakemake = spawnSync('snakemake', ['--version']).status === 0;
if (!hasSnakemake) console.log('Snakefile: not run: no snakemake');

it.skipIf(!hasSnakemake)('Snakemake makes one record a clip, and nothing a second time', async () => {
  const folder = scratch();
  const tiny = await tinyClip();
  for (const [i, name] of ['a', 'b'].entries()) {
    writeTiny(tiny, join(folder, `${name}.mp4`), i);
    writeTinyRecipe(tiny, join(folder, `${name}.recipe.json`));
  }
  const results = join(folder, 'results');
  const snakemake = () =>
    spawnSync(
      'snakemake',
      [
        ...['-s', snakefile, '--cores', '2', '--config', `clips=${folder}`, `results=${results}`],
        ...[`lagreel=${process.execPath} ${bin}`, 'options=--no-cache'],
      ],
      { cwd: folder, encoding: 'utf8' },
    );
  const first = snakemake();
  expect(first.status, first.stderr).toBe(0);
  for (const name of ['a', 'b']) expect(existsSync(join(results, `${name}.record.json`))).toBe(true);
  expect(first.stderr).toContain('3 of 3 steps (100%) done');
  const second = snakemake();
  expect(second.status, second.stderr).toBe(0);
  expect(second.stderr).toContain('Nothing to be done');
});
