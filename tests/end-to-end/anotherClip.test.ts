/** A clip that was measured before is taken for itself until its checksum is worked out: another one must not pass for it. */
import { createHash } from 'node:crypto';
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import { lagreel, scratch } from './program.js';
import { type TinyClip, tinyClip, writeTiny } from './tinyClips.js';

/** Two clips of one size with presses at other times. */
const clips: Buffer[] = [];
let tiny: TinyClip;

beforeAll(async () => {
  tiny = await tinyClip();
  const other = join(scratch(), 'other.mp4');
  const size = ['--size', '160x120', '--presses', '3', '--seed', '8', '--crf', '28'];
  await lagreel(['simulate', 'flash', ...size, '-o', other, '--quiet']);
  const made = [tiny.bytes, readFileSync(other)];
  const bytes = Math.max(...made.map((b) => b.length)) + 8;
  for (const clip of made) {
    // An empty box at the end, which players skip.
    const box = Buffer.alloc(bytes - clip.length);
    box.writeUInt32BE(box.length, 0);
    box.write('free', 4, 'latin1');
    clips.push(Buffer.concat([clip, box]));
  }
});

async function measured(folder: string, ...options: string[]): Promise<string> {
  const { code, err } = await lagreel(['measure', join(folder, 'clip.mp4'), '--quiet', ...options]);
  if (code !== 0) throw new Error(err);
  return readFileSync(join(folder, 'clip.record.json'), 'utf8');
}

function folderWith(clip: Buffer): string {
  const folder = scratch();
  writeFileSync(join(folder, 'clip.mp4'), clip);
  writeFileSync(join(folder, 'clip.recipe.json'), JSON.stringify(tiny.recipe));
  return folder;
}

describe('a clip beside a record', () => {
  it('that was put in the place of another of its size is measured as itself, cache or not', async () => {
    const alone = await measured(folderWith(clips[1]!), '--no-cache');
    for (const options of [[], ['--no-cache']]) {
      const folder = folderWith(clips[0]!);
      const first = await measured(folder, ...options);
      writeFileSync(join(folder, 'clip.mp4'), clips[1]!);
      const second = await measured(folder, ...options);
      expect(second).toBe(alone);
      expect(JSON.parse(second).clip.sha256).not.toBe(JSON.parse(first).clip.sha256);
      expect(JSON.parse(second).presses).not.toEqual(JSON.parse(first).presses);
    }
  });

  it('that differs from the one before in nothing but its checksum has its own in the record', async () => {
    const folder = scratch();
    const sums = [];
    for (const number of [1, 2]) {
      writeTiny(tiny, join(folder, 'clip.mp4'), number);
      writeFileSync(join(folder, 'clip.recipe.json'), JSON.stringify(tiny.recipe));
      sums.push(JSON.parse(await measured(folder)).clip.sha256);
      const clip = readFileSync(join(folder, 'clip.mp4'));
      expect(sums.at(-1)).toBe(createHash('sha256').update(clip).digest('hex'));
    }
    expect(new Set(sums).size).toBe(2);
  });

  it('gives the same bytes again from the cache, and with a record that says nonsense', async () => {
    const folder = folderWith(clips[0]!);
    const first = await measured(folder);
    expect(await measured(folder)).toBe(first);
    for (const nonsense of ['', '[]', '{"clip":{"sha256":"x","bytes":"y"}}', '{"clip":null}']) {
      writeFileSync(join(folder, 'clip.record.json'), nonsense);
      expect(await measured(folder)).toBe(first);
    }
    expect(existsSync(join(folder, 'clip.presses.csv'))).toBe(true);
  });
});
