/** The sample clips through the real program, against their exactly known truth, with the recipe and without any. */
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { PixelRect } from '../../src/clip/frameSource.js';
import type { ClipRecord } from '../../src/record/record.js';
import type { Scene } from '../../src/simulate/scene.js';
import { responseTruth } from '../../src/simulate/truth.js';
import type { TruthDocument } from '../../src/simulate/truthDocument.js';
import { copySample, type Ended, lagreel, SAMPLES, sample, scratch } from './program.js';

/** Acceptance, camera frames. */
const MEAN_LIMIT = 0.1;
const RMS_LIMIT = 0.3;
/** An LED onset belongs to a press that truly happened within this time, s. */
const SAME_PRESS_S = 0.02;

interface RegionErrors {
  readonly region: string;
  readonly n: number;
  /** Errors of latency, camera frames. */
  readonly mean: number;
  readonly rms: number;
}

interface Row extends RegionErrors {
  readonly clip: string;
  readonly recipe: boolean;
  readonly presses: string;
}

const rows: Row[] = [];

/** Errors of a region's latencies against the light of exactly that region; null where it does not change in truth. */
function regionErrors(
  record: ClipRecord,
  truth: TruthDocument,
  rect: PixelRect & { name: string },
): RegionErrors | null {
  const onsets = responseTruth(truth.scene, rect, record.recipe.response.level);
  if (onsets.every((onset) => onset === null)) return null;
  const errors = record.presses.flatMap((press) => {
    const response = press.responses.find((r) => r.region === rect.name && r.status === 'measured');
    const i = truth.presses.findIndex((p) => Math.abs(p.pressS - press.ledOnsetS) < SAME_PRESS_S);
    const onsetS = onsets[i] ?? null;
    if (response?.latencyMs === undefined || onsetS === null) return [];
    const trueMs = (onsetS - truth.presses[i]!.pressS) * 1000;
    return [((response.latencyMs - trueMs) / 1000) * truth.scene.camera.captureRateHz];
  });
  const mean = errors.reduce((sum, e) => sum + e, 0) / errors.length;
  const rms = Math.sqrt(errors.reduce((sum, e) => sum + e * e, 0) / errors.length);
  return { region: rect.name, n: errors.length, mean, rms };
}

function overlapPx(a: PixelRect, b: PixelRect): number {
  const width = Math.min(a.x + a.width, b.x + b.width) - Math.max(a.x, b.x);
  const height = Math.min(a.y + a.height, b.y + b.height) - Math.max(a.y, b.y);
  return Math.max(0, width) * Math.max(0, height);
}

/** The LED's own surface, without its halo. */
function ledSurface({ led }: Scene): PixelRect {
  return {
    x: led.centerXPx - led.widthPx / 2,
    y: led.centerYPx - led.heightPx / 2,
    width: led.widthPx,
    height: led.heightPx,
  };
}

describe.each(SAMPLES)('%s', (name) => {
  const truth: TruthDocument = JSON.parse(readFileSync(sample(`${name}.truth.json`), 'utf8'));
  const answered = truth.presses.filter((p) => p.status === 'answered');

  describe.each([
    { how: 'with its recipe', recipe: true },
    { how: 'without any recipe', recipe: false },
  ])('$how', ({ recipe }) => {
    let ended: Ended;
    let record: ClipRecord;
    let errors: RegionErrors[];

    beforeAll(async () => {
      const folder = scratch();
      const clip = copySample(name, folder);
      const known = recipe ? ['--recipe', sample(`${name}.recipe.json`)] : [];
      ended = await lagreel(['measure', clip, '--json', ...known]);
      expect(ended.code, ended.err).toBe(0);
      record = JSON.parse(readFileSync(join(folder, `${name}.record.json`), 'utf8'));
      errors = record.recipe.regions
        .filter((r) => r.role === 'screen')
        .map((r) => regionErrors(record, truth, r))
        .filter((e) => e !== null);
      const presses = `${record.presses.length} of ${truth.presses.length}`;
      for (const e of errors) rows.push({ clip: name, recipe, presses, ...e });
    });

    it('finds every press and invents none', () => {
      const found = record.presses.map((p) => p.ledOnsetS);
      expect(found).toHaveLength(truth.presses.length);
      truth.presses.forEach((press, i) => {
        expect(Math.abs(found[i]! - press.pressS)).toBeLessThan(SAME_PRESS_S);
      });
    });

    it('measures every answered press, and no other', () => {
      expect(answered.length).toBeGreaterThan(0);
      const measured = record.presses.filter((p) => p.status === 'measured').map((p) => p.index - 1);
      expect(measured).toEqual(answered.map((p) => p.index));
      for (const region of errors) expect(region.n, region.region).toBe(answered.length);
    });

    it('reports the unprompted changes that truly happened', () => {
      expect(new Set(record.unprompted.map((u) => u.onsetS)).size > 0).toBe(truth.unprompted.length > 0);
    });

    it('has regions on the LED and on the part of the screen that changes', () => {
      const led = record.recipe.regions.find((r) => r.role === 'led')!;
      expect(overlapPx(led, ledSurface(truth.scene))).toBeGreaterThan(0);
      expect(errors.length).toBeGreaterThan(0);
      for (const region of record.recipe.regions.filter((r) => r.role === 'screen')) {
        expect(overlapPx(region, truth.scene.screen.rect), region.name).toBeGreaterThan(0);
      }
    });

    it(`errs by at most ${MEAN_LIMIT} camera frames in the mean and ${RMS_LIMIT} RMS`, () => {
      for (const { region, mean, rms } of errors) {
        expect.soft(Math.abs(mean), `mean error of region ${region}`).toBeLessThanOrEqual(MEAN_LIMIT);
        expect.soft(rms, `RMS error of region ${region}`).toBeLessThanOrEqual(RMS_LIMIT);
      }
    });
  });
});

afterAll(() => {
  const text = rows.map(
    (r) =>
      `${r.clip.padEnd(15)} ${(r.recipe ? 'recipe' : 'none').padEnd(7)} ${r.presses.padEnd(9)} ` +
      `${r.region.padEnd(10)} ${String(r.n).padStart(3)} ${r.mean.toFixed(3).padStart(7)} ${r.rms.toFixed(3).padStart(6)}`,
  );
  const head = 'clip            recipe  presses   region       n    mean    rms  (errors in camera frames)';
  process.stdout.write(`\n${[head, ...text].join('\n')}\n\n`);
});
