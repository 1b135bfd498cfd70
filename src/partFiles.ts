/**
 * Files on their way to being whole. A process that is killed leaves them behind, and the next run takes them away; so
 * each carries in its name who owns it, since a second process may be at work in the same folder.
 */
import { createHash, randomBytes } from 'node:crypto';
import { readFileSync, readlinkSync } from 'node:fs';
import { open, readdir, rm, stat, unlink } from 'node:fs/promises';
import { hostname } from 'node:os';
import { dirname, join } from 'node:path';

/** `.lagreel-MACHINE-PID-START-RANDOM.part`; START is in clock ticks since the machine came up, 0 where it does not say. */
const PART = /^\.lagreel-([0-9a-f]{8})-(\d+)-(\d+)-[0-9a-f]{12}\.part$/;
/** Nothing that lagreel writes takes this long; judges the files of other machines, whose processes cannot be seen. */
const LEFT_BEHIND_MS = 24 * 3600 * 1000;

/** Whether a name is one that `partPath` gives. */
export function isPartName(name: string): boolean {
  return PART.test(name);
}

/**
 * A hidden neighbour of a file, to be written first and then renamed; no two calls give the same. It may be made a
 * folder, too, of files that are needed only as long as the process lives.
 */
export function partPath(path: string): string {
  return join(
    dirname(path),
    `.lagreel-${machineMark()}-${process.pid}-${startOf('self')}-${randomBytes(6).toString('hex')}.part`,
  );
}

/**
 * Takes away what killed processes left half-written in a folder (of folders all that is in them). A file stays where its owner lives: on this machine
 * the process of its number and start time, on another one any that wrote within a day.
 * @returns how many were taken; 0 also where the folder is missing or may not be written.
 */
export async function removeLeftovers(folder: string): Promise<number> {
  const names = (await readdir(folder).catch(() => [])).filter((name) => PART.test(name));
  if (names.length === 0) return 0;
  const nowMs = await folderTimeMs(folder);
  let taken = 0;
  for (const name of names) {
    const path = join(folder, name);
    const owner = ownerState(name);
    if (owner === 'alive' || (owner === 'unknown' && !(await isOld(path, nowMs)))) continue;
    // Another run may have taken it first, or it may be another user's.
    taken += await rm(path, { recursive: true }).then(
      () => 1,
      () => 0,
    );
  }
  return taken;
}

async function isOld(path: string, nowMs: number | null): Promise<boolean> {
  const facts = await stat(path).catch(() => null);
  return facts !== null && nowMs !== null && nowMs - facts.mtimeMs > LEFT_BEHIND_MS;
}

/** The time by the clock that stamps the folder's files, which on a network is not this machine's. */
async function folderTimeMs(folder: string): Promise<number | null> {
  const probe = partPath(join(folder, 'time'));
  try {
    const handle = await open(probe, 'wx');
    try {
      return (await handle.stat()).mtimeMs;
    } finally {
      await handle.close();
      await unlink(probe);
    }
  } catch {
    return null;
  }
}

function ownerState(name: string): 'alive' | 'gone' | 'unknown' {
  const [, machine, pid, start] = PART.exec(name)!;
  if (machine !== machineMark()) return 'unknown';
  if (start !== '0') return startOf(pid!) === start ? 'alive' : 'gone';
  try {
    process.kill(Number(pid), 0);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ESRCH') return 'gone';
  }
  // Without a start time the number may be another process's by now.
  return 'unknown';
}

/** Process numbers mean something only on one machine, since it came up, and within one container. */
function machineMark(): string {
  const identity = [
    hostname(),
    textOf(() => readFileSync('/proc/sys/kernel/random/boot_id', 'utf8')),
    textOf(() => readlinkSync('/proc/self/ns/pid')),
  ];
  return createHash('sha256').update(identity.join('\n')).digest('hex').slice(0, 8);
}

function startOf(pid: string): string {
  const text = textOf(() => readFileSync(`/proc/${pid}/stat`, 'latin1'));
  // The name before the last bracket may hold anything.
  const fields = text.slice(text.lastIndexOf(')') + 2).split(' ');
  // A zombie has ended, and only waits to be counted.
  if (fields[0] === 'Z') return '0';
  return fields[19] ?? '0';
}

/** What the system says where it says it (Linux), else nothing. */
function textOf(read: () => string): string {
  try {
    return read();
  } catch {
    return '';
  }
}
