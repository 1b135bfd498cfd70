/** A folder of clips to a decision: measure all, go on after a bad one, compare. */
import { copyFileSync, existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { run } from '../../src/cli/main.js';
import type { ClipRecord } from '../../src/record/record.js';

const samples = fileURLToPath(new URL('../../sample-clips', import.meta.url));
const folder = mkdtempSync(join(tmpdir(), 'lagreel-session-test-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

async function lagreel(...argv: string[]) {
  const said = { out: '', err: '' };
  const code = await run(argv, {
    out: (text) => {
      said.out += text;
    },
    err: (text) => {
      said.err += text;
    },
    colour: false,
    width: 120,
    live: false,
  });
  return { code, ...said };
}

beforeAll(() => {
  for (const name of ['alder-flat', 'cedar-sprite']) {
    for (const end of ['mp4', 'recipe.json'])
      copyFileSync(join(samples, `${name}.${end}`), join(folder, `${name}.${end}`));
  }
  writeFileSync(join(folder, 'broken.mp4'), 'this is no clip');
  writeFileSync(
    join(folder, 'session.csv'),
    'file,chain,place\nalder-flat.mp4,Alder,north\nmissing.mp4,Birch,south\n',
  );
});

describe('measure FOLDER', () => {
  it('takes all clips, goes on after a bad one, ends with a table and a list of what failed', async () => {
    const { code, out, err } = await lagreel('measure', folder, '--jobs', '2');
    expect(code).toBe(4);
    expect(out).toMatch(/^2 clips measured\n/);
    expect(out).toContain('alder-flat.mp4');
    expect(out).toContain('cedar-sprite.mp4');
    expect(err).toContain('3 of 3 clips');
    expect(err).toContain('1 of 3 clips failed: ');
    expect(err).toMatch(/broken\.mp4/);
    expect(err).toContain('session.csv names missing.mp4, not among the clips');
    const record = JSON.parse(readFileSync(join(folder, 'alder-flat.record.json'), 'utf8')) as ClipRecord;
    // Labels of the table above those of the recipe; the others stay.
    expect(record.recipe.labels).toMatchObject({ chain: 'Alder', place: 'north', display: 'flat panel A' });
    expect(existsSync(join(folder, 'broken.record.json'))).toBe(false);
  });

  it('--json prints one document; the same whatever the number of jobs', async () => {
    const once = await lagreel('measure', folder, '--jobs', '1', '--json', '--quiet');
    const twice = await lagreel('measure', folder, '--jobs', '3', '--json', '--quiet');
    const document = JSON.parse(once.out) as { records: ClipRecord[]; failed: { clip: string }[] };
    expect(document.records.map((r) => r.clip.file)).toEqual(['alder-flat.mp4', 'cedar-sprite.mp4']);
    expect(document.failed).toHaveLength(1);
    expect(twice.out).toBe(once.out);
  });

  it('then compares the folder', async () => {
    const { code, out } = await lagreel('compare', folder, '--baseline', 'chain=Cedar');
    expect(code).toBe(0);
    // Truth: 46.2 and 33.5 ms, and the regions' own places on the screen.
    expect(out).toMatch(/Alder adds 1[2-5]\.\d ms \(0\.\d\d display frames\), fixed\./);
  });

  it('a folder without clips is one sentence', async () => {
    const { code, err } = await lagreel(
      'measure',
      fileURLToPath(new URL('../../src/stats', import.meta.url)),
    );
    expect(code).toBe(3);
    expect(err).toContain('there is no clip in the folder');
  });
});
