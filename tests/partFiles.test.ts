import { spawn } from 'node:child_process';
import { mkdtempSync, readdirSync, readFileSync, rmSync, utimesSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { partPath, removeLeftovers } from '../src/partFiles.js';

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lagreel-part-test-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const own = () => partPath(join(folder, 'a.record.json'));
/** `.lagreel-MACHINE-PID-START-RANDOM.part` with parts of the name replaced. */
function named(change: { machine?: string; pid?: number; start?: string }): string {
  const [, machine, pid, start, end] = basename(own()).split('-');
  const name = ['.lagreel', change.machine ?? machine, change.pid ?? pid, change.start ?? start, end].join(
    '-',
  );
  const path = join(folder, name);
  writeFileSync(path, 'half a rec');
  return name;
}
const old = (name: string) => utimesSync(join(folder, name), 1_600_000_000, 1_600_000_000);
const startOf = (pid: number) => {
  const stat = readFileSync(`/proc/${pid}/stat`, 'latin1');
  return stat.slice(stat.lastIndexOf(')') + 2).split(' ')[19]!;
};

describe('half-written files', () => {
  it('have each a name of their own, hidden, short, beside what they become', () => {
    const names = new Set(Array.from({ length: 100 }, own));
    expect(names.size).toBe(100);
    for (const path of names)
      expect(basename(path)).toMatch(/^\.lagreel-[0-9a-f]{8}-\d+-[1-9]\d*-[0-9a-f]{12}\.part$/);
    expect(basename(partPath(join(folder, 'x'.repeat(250)))).length).toBeLessThan(80);
  });

  it('of this process and of another that lives stay, however old', async () => {
    const child = spawn('sleep', ['30']);
    await new Promise((resolve) => child.once('spawn', resolve));
    const kept = [named({}), named({ pid: child.pid!, start: startOf(child.pid!) })];
    for (const name of kept) old(name);
    expect(await removeLeftovers(folder)).toBe(0);
    expect(readdirSync(folder).sort()).toEqual(kept.sort());
    const gone = new Promise((resolve) => child.once('close', resolve));
    child.kill('SIGKILL');
    await gone;
    expect(await removeLeftovers(folder)).toBe(1);
    expect(readdirSync(folder)).toEqual([kept.find((name) => !name.includes(`-${child.pid}-`))]);
  });

  it('of a process that is gone go, also where its number belongs to another by now', async () => {
    named({ start: '1' });
    named({ pid: 4_000_000 });
    expect(await removeLeftovers(folder)).toBe(2);
    expect(readdirSync(folder)).toEqual([]);
  });

  it('of another machine, or without a start time, are judged by their age', async () => {
    const young = [named({ machine: '00000000', pid: 4_000_000 }), named({ start: '0' })];
    for (const name of [named({ machine: '00000000' }), named({ start: '0' })]) old(name);
    expect(await removeLeftovers(folder)).toBe(2);
    expect(readdirSync(folder).sort()).toEqual(young.sort());
  });

  it('are known by their whole name: nothing else is touched', async () => {
    const others = [
      '.lagreel-notes.part',
      '.a.record.json.0123456789ab.part',
      'lagreel.part',
      '.lagreel-1-2-3.part',
    ];
    for (const name of others) {
      writeFileSync(join(folder, name), '');
      old(name);
    }
    expect(await removeLeftovers(folder)).toBe(0);
    expect(readdirSync(folder).sort()).toEqual(others.sort());
    expect(await removeLeftovers(join(folder, 'missing'))).toBe(0);
  });
});
