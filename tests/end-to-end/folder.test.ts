/**
 * A folder of many tiny clips: memory by workers, not by clips, and a second run that passes over all of them.
 * LAGREEL_MANY_CLIPS=3000 makes it thousands (120 where it is not set); the figures are printed.
 */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { descendants, lagreel, scratch } from './program.js';
import { tinyClip, writeTiny, writeTinyRecipe } from './tinyClips.js';

const MANY = Number(process.env.LAGREEL_MANY_CLIPS ?? 120);
const JOBS = 2;

/** Resident memory of a process, MB; 0 where it is gone. */
function residentMb(pid: number): number {
  try {
    return Number(/^VmRSS:\s+(\d+) kB/m.exec(readFileSync(`/proc/${pid}/status`, 'latin1'))?.[1] ?? 0) / 1024;
  } catch {
    return 0;
  }
}

/** Runs over a folder, and the most memory that the first process, and all Node processes together, had at a time. */
async function watched(folder: string, ...options: string[]) {
  const most = { firstMb: 0, allMb: 0 };
  const atMs = performance.now();
  const ended = await lagreel(['measure', folder, '--jobs', String(JOBS), '--json', ...options], {
    onStart: (child) => {
      const timer = setInterval(() => {
        const workers = descendants(child.pid!).filter((p) => p.name !== 'ffmpeg');
        const firstMb = residentMb(child.pid!);
        const allMb = workers.reduce((sum, p) => sum + residentMb(p.pid), firstMb);
        most.firstMb = Math.max(most.firstMb, firstMb);
        most.allMb = Math.max(most.allMb, allMb);
      }, 200);
      child.once('close', () => clearInterval(timer));
    },
  });
  return { ...ended, ...most, seconds: (performance.now() - atMs) / 1000 };
}

it(
  `${MANY} clips take no more memory than a quarter of them, and a second run measures none`,
  async () => {
    const tiny = await tinyClip();
    const folderOf = (count: number) => {
      const folder = scratch();
      for (let i = 0; i < count; i++) {
        writeTiny(tiny, join(folder, `c${String(i).padStart(5, '0')}.mp4`), i);
        writeTinyRecipe(tiny, join(folder, `c${String(i).padStart(5, '0')}.recipe.json`));
      }
      return folder;
    };
    const few = await watched(folderOf(Math.ceil(MANY / 4)), '--no-cache');
    const folder = folderOf(MANY);
    const many = await watched(folder, '--no-cache');
    const again = await watched(folder, '--no-cache');
    const text = (run: typeof few) =>
      `${run.seconds.toFixed(0)} s, first process ${run.firstMb.toFixed(0)} MB, with ${JOBS} workers ${run.allMb.toFixed(0)} MB`;
    console.log(
      [
        `${Math.ceil(MANY / 4)} clips: ${text(few)}`,
        `${MANY} clips: ${text(many)}`,
        `again: ${text(again)}`,
      ].join('\n'),
    );
    expect(JSON.parse(many.out).records).toHaveLength(MANY);
    expect(JSON.parse(many.out).failed).toEqual([]);
    expect(JSON.parse(again.out).skipped).toHaveLength(MANY);
    expect(readdirSync(folder)).toHaveLength(6 * MANY);
    // Garbage is collected when it likes; what grew by the clip (a record is a tenth of a megabyte) would be far more.
    expect(many.allMb).toBeLessThan(few.allMb * 1.3 + 30);
    // Each is measured or looked at twice and a quarter, on a machine that may be busy.
  },
  600_000 + 15_000 * MANY,
);
