/**
 * A strobed display in a coded clip, from the command line without a recipe: flashes that the coder's noise makes fit
 * badly are flashes nevertheless. Compared with the simulator's truth, press by press.
 */
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { lagreel, scratch } from './program.js';

const PERIOD_MS = 1000 / 240;
const REFRESH_MS = 1000 / 75;

it('is measured, and no latency is off by a camera frame or more but by whole refreshes of its scan', async () => {
  const folder = scratch();
  const scene = ['toggle', '--display', 'strobed', '--refresh', '75', '--exposure', '0.6'];
  const seed = ['--seed', '93377', '--presses', '14'];
  expect((await lagreel(['simulate', ...scene, ...seed, '-o', join(folder, 'c.mp4')])).code).toBe(0);
  expect((await lagreel(['measure', join(folder, 'c.mp4'), '--out', folder])).code).toBe(0);
  const read = (name: string) => JSON.parse(readFileSync(join(folder, name), 'utf8'));
  const [truth, record] = [read('c.truth.json'), read('c.record.json')];
  const errorsMs: number[] = [];
  for (const { ledOnsetS, responses } of record.presses) {
    const press = truth.presses.find((p: { pressS: number }) => Math.abs(p.pressS - ledOnsetS) < 0.02);
    for (const { status, latencyMs } of responses) {
      if (status === 'measured') errorsMs.push(latencyMs - press.latencyMs);
    }
  }
  // Of 14 presses in three regions; the flash that would show an answer falls behind the closed shutter now and then.
  expect(errorsMs.length).toBeGreaterThanOrEqual(12);
  for (const errorMs of errorsMs) {
    // The lowest lines are drawn after the flash that shows the change at the height of the truth's region.
    const flashes = Math.round(errorMs / REFRESH_MS);
    expect([0, 1]).toContain(flashes);
    expect(Math.abs(errorMs - flashes * REFRESH_MS)).toBeLessThan(PERIOD_MS);
  }
});
