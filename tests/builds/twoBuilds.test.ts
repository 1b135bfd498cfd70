/**
 * The same clip by two builds of FFmpeg, years apart: the bundled one, and the one that LAGREEL_SECOND_FFMPEG names or
 * /usr/bin/ffmpeg. Everything but FFmpeg's own version line is the same, byte by byte.
 */
import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { findFfmpeg } from '../../src/clip/ffmpeg.js';
import { copySample, lagreel, SAMPLES, sample, scratch } from '../end-to-end/program.js';

const second = [process.env.LAGREEL_SECOND_FFMPEG ?? '', '/usr/bin/ffmpeg'].find(
  (path) => path !== '' && existsSync(path),
);

it.skipIf(second === undefined).each(SAMPLES)('%s gives the same record', async (name) => {
  const lines = await Promise.all(
    [{}, { LAGREEL_FFMPEG: second! }].map(
      async (env) => (await findFfmpeg({ PATH: '', ...env })).versionLine,
    ),
  );
  expect(lines[0]).not.toBe(lines[1]);
  const results = [];
  for (const env of [{ PATH: '/nowhere' }, { LAGREEL_FFMPEG: second! }]) {
    const folder = scratch();
    const args = [
      'measure',
      copySample(name, folder),
      '--no-cache',
      '--quiet',
      '--recipe',
      sample(`${name}.recipe.json`),
    ];
    const ended = await lagreel(args, { env });
    expect(ended.code, ended.err).toBe(0);
    const text = (end: string) => readFileSync(join(folder, `${name}.${end}`), 'utf8');
    const line = JSON.parse(text('record.json')).tool.ffmpeg;
    results.push({ line, record: text('record.json').replaceAll(line, ''), csv: text('presses.csv') });
  }
  expect(results.map((r) => r.line)).toEqual(lines);
  expect(results[0]!.record === results[1]!.record).toBe(true);
  expect(results[0]!.csv === results[1]!.csv).toBe(true);
});
