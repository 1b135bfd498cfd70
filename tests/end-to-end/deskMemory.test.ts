/** The desk's memory while a person works for long: server and workbench stay as large as they were. */
import { copyFileSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { expect, it } from 'vitest';
import {
  type FolderAnswer,
  type JobAnswer,
  type JobStarted,
  SECRET_HEADER,
} from '../../src/desk/protocol.js';
import type { Recipe } from '../../src/record/recipe.js';
import { benchFolder, startDesk } from '../browser/deskHarness.js';

const NAME = 'cedar-sprite';
const MEASUREMENTS = 30;
const STEPS = 1500;
/** Rounds before the memory is taken as what it is: caches are filled, and the engine has seen all code. */
const WARM = 10;
/** What the engine keeps or gives back from one collection to the next, MB (seen on this machine: up to 60). */
const ROOM_MB = 120;

/** Resident memory of a process, MB, by the kernel. */
function residentMb(pid: number): number {
  return Number(/VmRSS:\s+(\d+)/.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))![1]) / 1024;
}

/** The workbench of a server. */
function benchOf(server: number): number {
  const found = readdirSync('/proc').find((name) => {
    if (!/^\d+$/.test(name)) return false;
    try {
      const parent = readFileSync(`/proc/${name}/stat`, 'utf8').split(') ')[1]!.split(' ')[1];
      const words = readFileSync(`/proc/${name}/cmdline`, 'utf8');
      return parent === String(server) && words.includes('workbenchProcess');
    } catch {
      return false;
    }
  });
  return Number(found);
}

it.skipIf(process.platform !== 'linux')(
  `${MEASUREMENTS} measurements and ${STEPS} steps leave the memory where it was`,
  async () => {
    const folder = benchFolder([`${NAME}.mp4`]);
    copyFileSync(`sample-clips/${NAME}.recipe.json`, join(folder, `${NAME}.recipe.json`));
    const desk = await startDesk(folder);
    try {
      const headers = {
        [SECRET_HEADER]: new URL(desk.address).hash.slice(1),
        'content-type': 'application/json',
      };
      const ask = async (path: string, init: RequestInit = {}): Promise<Response> => {
        const answer = await fetch(desk.origin + path, { headers, ...init });
        if (!answer.ok) throw new Error(`${path}: ${answer.status} ${await answer.text()}`);
        return answer;
      };
      const { clips } = (await (await ask('/api/clips')).json()) as FolderAnswer;
      const path = `/api/clips/${clips[0]!.id}`;
      const recipe = JSON.parse(readFileSync(join(folder, `${NAME}.recipe.json`), 'utf8')) as Recipe;
      const measure = async (asked: Recipe): Promise<void> => {
        const body = JSON.stringify({ recipe: asked, save: false });
        const { job } = (await (await ask(`${path}/measure`, { method: 'POST', body })).json()) as JobStarted;
        for (;;) {
          const now = (await (await ask(`/api/jobs/${job}`)).json()) as JobAnswer;
          if (now.state === 'done') return;
          if (now.state !== 'running') throw new Error(`${now.state}: ${now.error}`);
          await new Promise((go) => setTimeout(go, 20));
        }
      };
      // Every one differs: another refresh, another level, a region moved by a pixel.
      const changed = (n: number): Recipe => ({
        ...recipe,
        display: { refreshHz: 60 + (n % 3) / 100 },
        response: { ...recipe.response, level: 0.1 + (n % 5) / 50 },
        regions: recipe.regions.map((r) => (r.role === 'screen' ? { ...r, x: r.x + (n % 7) } : r)),
      });
      const size = () => ({ server: residentMb(desk.pid), bench: residentMb(benchOf(desk.pid)) });
      const sizes: ReturnType<typeof size>[] = [];
      for (let n = 0; n < MEASUREMENTS; n++) {
        await measure(changed(n));
        sizes.push(size());
      }
      for (let k = 0; k < STEPS; k++) {
        await (await ask(`${path}/frame/${k}?max=480`)).arrayBuffer();
        if (k % 50 === 49) sizes.push(size());
      }
      for (const part of ['server', 'bench'] as const) {
        const all = sizes.map((s) => s[part]);
        const words = [0, WARM, MEASUREMENTS - 1, all.length - 1].map((i) => all[i]!.toFixed(0));
        console.log(
          `desk memory, ${part}: ${words[0]} MB after the first measurement, ${words[1]} after ${WARM}, ${words[2]} after ${MEASUREMENTS}, ${words[3]} after ${STEPS} steps; largest ${Math.max(...all).toFixed(0)}`,
        );
        const before = part === 'server' ? MEASUREMENTS + 10 : WARM;
        const later = all.slice(before + 1);
        const grown = later.at(-1)! - Math.max(...all.slice(0, before + 1));
        expect(grown).toBeLessThan(ROOM_MB);
      }
    } finally {
      await desk.stop();
      rmSync(dirname(folder), { recursive: true, force: true });
    }
  },
);
