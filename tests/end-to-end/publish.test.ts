/** Board and cards from the real program: files, links, exit codes, and letters on a machine without fonts. */
import { execFileSync, spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import sharp from 'sharp';
import { beforeAll, describe, expect, it } from 'vitest';
import { toJsonText } from '../../src/record/files.js';
import { benchComparison } from '../report/boardFixtures.js';
import { normalRecord } from '../report/fixtures.js';
import { lagreel, listing, scratch } from './program.js';

const BIN = fileURLToPath(new URL('../../bin/lagreel.js', import.meta.url));
const folder = scratch();
const record = join(folder, 'birch 240p.record.json');
const comparison = join(folder, 'bench', 'comparison.json');

beforeAll(() => {
  mkdirSync(join(folder, 'bench'));
  writeFileSync(record, toJsonText(normalRecord()));
  const made = benchComparison();
  writeFileSync(comparison, toJsonText(made));
  for (const clip of made.clips) writeFileSync(join(folder, 'bench', clip.report), '<!DOCTYPE html>');
});

describe('board', () => {
  it('writes page and tables; links lead to the reports from another folder, too', async () => {
    const out = join(folder, 'shown here', 'board.html');
    const ended = await lagreel(['board', comparison, '-o', out]);
    expect(ended.code, ended.err).toBe(0);
    expect(listing(dirname(out))).toEqual(['board.csv', 'board.html', 'board.json', 'board.md']);
    const page = readFileSync(out, 'utf8');
    const links = [...page.matchAll(/href="(\.[^"]*report\.html)"/g)].map((m) => decodeURIComponent(m[1]!));
    expect(links.length).toBeGreaterThanOrEqual(9);
    for (const link of links) expect(existsSync(resolve(dirname(out), link)), link).toBe(true);
    const json = await lagreel(['board', comparison, '-o', out, '--json']);
    expect(JSON.parse(json.out)).toEqual(JSON.parse(readFileSync(join(dirname(out), 'board.json'), 'utf8')));
    expect(json.err).toBe('');
  });
  it.each([
    { what: 'a record', args: [record, '-o', join(folder, 'x.html')], code: 2, says: /record of one clip/ },
    { what: 'another ending', args: [comparison, '-o', join(folder, 'x.txt')], code: 2, says: /NAME\.html/ },
    {
      what: 'over the comparison',
      args: [comparison, '-o', join(folder, 'bench', 'comparison.html')],
      code: 2,
      says: /overwritten/,
    },
    {
      what: 'no file',
      args: [join(folder, 'no.json'), '-o', join(folder, 'x.html')],
      code: 3,
      says: /no file/,
    },
  ])('$what: one sentence, nothing written', async ({ args, code, says }) => {
    const before = listing(folder);
    const ended = await lagreel(['board', ...args]);
    expect(ended.code, ended.err).toBe(code);
    expect(ended.said).toHaveLength(1);
    expect(ended.said[0]).toMatch(says);
    expect(listing(folder)).toEqual(before);
  });
});

describe('card', () => {
  it.each([
    { args: [record], size: [1920, 1080], kind: 'chain' },
    { args: [record, '--tall', '--dark'], size: [1080, 1920], kind: 'chain' },
    { args: [comparison, '--tall'], size: [1080, 1920], kind: 'board' },
  ])('$kind $size', async ({ args, size, kind }) => {
    const out = join(folder, `${kind} ${size.join('x')}.png`);
    const ended = await lagreel(['card', ...args, '-o', out, '--json']);
    expect(ended.code, ended.err).toBe(0);
    expect(JSON.parse(ended.out)).toMatchObject({ kind, widthPx: size[0], heightPx: size[1] });
    const { width, height } = await sharp(out).metadata();
    expect([width, height]).toEqual(size);
  });
  it('a region that is not there', async () => {
    const ended = await lagreel(['card', record, '--screen', 'side', '-o', join(folder, 'x.png')]);
    expect([ended.code, ended.said.length]).toEqual([2, 1]);
    expect(existsSync(join(folder, 'x.png'))).toBe(false);
  });

  // A mount namespace of its own, in which no font and no font settings are.
  const hide = 'mount -t tmpfs none /usr/share/fonts && mount -t tmpfs none /etc/fonts';
  const allowed = spawnSync('unshare', ['-m', 'bash', '-c', hide]).status === 0;
  if (!allowed)
    console.warn('cards without fonts: no right to hide the fonts here, so this check is skipped');
  it.skipIf(!allowed)('the same bytes on a machine without fonts', () => {
    const [here, bare] = [join(folder, 'here.png'), join(folder, 'bare.png')];
    const args = (out: string) => ['card', record, '-o', out, '--quiet'];
    execFileSync(process.execPath, [BIN, ...args(here)]);
    const run = `${hide} && exec "$0" "$@"`;
    const messages = spawnSync('unshare', ['-m', 'bash', '-c', run, process.execPath, BIN, ...args(bare)]);
    expect(messages.stderr.toString()).toBe('');
    expect(readFileSync(bare).equals(readFileSync(here))).toBe(true);
  });
});
