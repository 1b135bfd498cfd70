import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { keepInHistory } from '../../src/archive/history.js';
import { clipFiles } from '../../src/record/files.js';

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lagreel-history-test-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

describe('keepInHistory', () => {
  it('keeps nothing where there is no record, or the same', async () => {
    const files = clipFiles(join(folder, 'birch.mp4'));
    expect(await keepInHistory(files, 'new')).toBeNull();
    writeFileSync(files.record, 'new');
    expect(await keepInHistory(files, 'new')).toBeNull();
    expect(readdirSync(folder)).toEqual(['birch.record.json']);
  });

  it('keeps each record once, byte for byte, in order', async () => {
    const files = clipFiles(join(folder, 'birch.mp4'));
    const texts = ['first\r\n', 'second', 'first\r\n', 'third \u00e9'];
    for (const text of texts) {
      writeFileSync(files.record, text);
      // Twice, as where a run was stopped between keeping and replacing.
      const path = await keepInHistory(files, 'next');
      expect(await keepInHistory(files, 'next')).toBe(path);
      expect(readFileSync(path!, 'utf8')).toBe(text);
      expect(readFileSync(files.record, 'utf8')).toBe(text);
    }
    const kept = readdirSync(files.history).sort();
    expect(kept.map((name) => name.slice(0, 4))).toEqual(['001-', '002-', '003-']);
    expect(kept.map((name) => readFileSync(join(files.history, name), 'utf8'))).toEqual([
      'first\r\n',
      'second',
      'third \u00e9',
    ]);
  });
});
