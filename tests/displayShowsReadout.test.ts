/** A measurement of several regions on one screen: the display's own scan tells the camera's row readout. */
import { beforeAll, describe, expect, it } from 'vitest';
import type { FindingsQuestion, FindingsStore, LightFindings } from '../src/clipFindings.js';
import { measureClip, measureSamples } from '../src/measure.js';
import type { Recipe } from '../src/record/recipe.js';
import type { Region } from '../src/region/region.js';
import { sampleClip } from '../src/samples/sampleClip.js';
import type { ClipSamples } from '../src/samples/samples.js';
import { type FilmedScene, filmScene } from './filmedScene.js';

const READOUT = 0.85;
let film: FilmedScene;
let samples: ClipSamples;
let open: Recipe;

beforeAll(async () => {
  film = await filmScene(
    5,
    { display: ['panel'], content: ['flash'], widthPx: 480, heightPx: 270, presses: 5 },
    (scene) => ({ ...scene, camera: { ...scene.camera, readoutFraction: READOUT, exposureFraction: 0.9 } }),
  );
  const { rect } = film.scene.screen;
  const band = (name: string, share: number): Region => ({
    ...{ name, role: 'screen', x: rect.x + Math.round(rect.width / 3), width: Math.round(rect.width / 3) },
    ...{ y: rect.y + Math.round(share * rect.height), height: Math.round(0.16 * rect.height) },
  });
  const led = film.recipe.regions[0]!;
  const regions = [led, band('top', 0.04), band('middle', 0.42), band('bottom', 0.8)];
  ({ samples } = await sampleClip(film.source, regions));
  const capture = { ...film.recipe.capture, exposureFraction: 0.9, readoutFraction: null };
  open = { ...film.recipe, regions, capture };
});

const measure = (recipe: Recipe) => measureSamples(samples, film.times, film.facts, recipe).record;
const withScan = (): Recipe => {
  const { rect } = film.scene.screen;
  const scan = { topPx: rect.y, bottomPx: rect.y + rect.height, mode: '1080p60' };
  return { ...open, display: { ...open.display, scan } };
};

describe('a measurement with the rows of the display’s scan', () => {
  it('uses the readout that the scan shows, says what it assumes, and leaves the recipe as it is', () => {
    const record = measure(withScan());
    expect(record.timing.readoutSource).toBe('display');
    expect(Math.abs(record.timing.readoutFraction! - READOUT)).toBeLessThan(0.2);
    expect(record.warnings.join(' ')).toMatch(/taken from the display's scan, assuming/);
    expect(record.recipe.capture.readoutFraction).toBeNull();
    expect(record.fitness.reasons.map((r) => r.code)).not.toContain('readout-unknown');
  });

  it('comes out the same from findings that were kept, of both readouts', async () => {
    const kept = new Map<string, LightFindings>();
    const nameOf = (question: FindingsQuestion) => JSON.stringify(question);
    const findings: FindingsStore = {
      read: async (question) => kept.get(nameOf(question)) ?? null,
      keep: async (question, found) => {
        kept.set(nameOf(question), found);
      },
    };
    const text = ({ record }: { record: object }) => JSON.stringify(record);
    const first = await measureClip(film.source, withScan(), { findings });
    expect(kept.size).toBe(2);
    const refused = () => Promise.reject(new Error('not to be read'));
    const again = await measureClip(film.source, withScan(), { findings, sample: refused });
    expect(text(again)).toBe(text(first));
    expect(text(first)).toBe(JSON.stringify(measure(withScan())));
  });

  it('comes nearer to the latencies of the true readout, with a narrower budget than an unknown one', () => {
    const unknown = measure(open);
    const shown = measure(withScan());
    const stated = measure({ ...open, capture: { ...open.capture, readoutFraction: READOUT } });
    const far = (record: typeof stated) =>
      record.presses.flatMap((p, i) =>
        p.responses.map((r, k) =>
          Math.abs((r.latencyMs ?? 0) - (stated.presses[i]!.responses[k]!.latencyMs ?? 0)),
        ),
      );
    const rowPart = (record: typeof stated) =>
      record.presses[0]!.responses[0]!.budget!.find((b) => b.name === 'row readout')!.standardUncertaintyMs;
    const worst = (values: number[]) => values.reduce((a, b) => Math.max(a, b), 0);
    expect(worst(far(shown))).toBeLessThan(0.7 * worst(far(unknown)));
    expect(rowPart(shown)).toBeLessThan(0.85 * rowPart(unknown));
    expect(rowPart(shown)).toBeGreaterThan(0);
  });

  it('a stated readout comes first, and the scan then says nothing', () => {
    const recipe = withScan();
    const record = measure({ ...recipe, capture: { ...recipe.capture, readoutFraction: READOUT } });
    expect(record.timing).toMatchObject({ readoutSource: 'stated', readoutFraction: READOUT });
    expect(record.warnings.join(' ')).not.toMatch(/display's scan/);
  });

  it('says why where the scan cannot tell', () => {
    const recipe = withScan();
    const record = measure({ ...recipe, regions: recipe.regions.slice(0, 2) });
    expect(record.timing).toMatchObject({ readoutSource: 'unknown', readoutFraction: null });
    expect(record.warnings.join(' ')).toMatch(/could not be told .*two screen regions/);
  });
});
