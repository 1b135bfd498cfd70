/** A camera file in a measurement: readout by the sensor's own time, with its uncertainty in the budget. */
import { beforeAll, describe, expect, it } from 'vitest';
import { measureSamples } from '../../src/measure.js';
import { type CameraCalibration, parseCamera } from '../../src/record/camera.js';
import type { Recipe } from '../../src/record/recipe.js';
import { type FilmedScene, filmScene } from '../filmedScene.js';

let filmed: FilmedScene;
let open: Recipe;
let camera: CameraCalibration;
beforeAll(async () => {
  filmed = await filmScene(11, { readoutFraction: [0.8, 0.8], captureRateHz: [240] });
  open = { ...filmed.recipe, capture: { ...filmed.recipe.capture, readoutFraction: null } };
  camera = {
    format: 'lagreel-camera',
    version: 1,
    coded: { width: filmed.facts.codedWidth, height: filmed.facts.codedHeight },
    // Calibrated at a rate 1 % beside the clip's: the time is carried over, not the fraction.
    captureRateHz: 242.4,
    captureRateIntervalHz: [242.3, 242.5],
    readoutMs: 800 / 240,
    readoutUncertaintyMs: 0.05,
    readoutFraction: 0.808,
    readoutFractionInterval: [0.784, 0.832],
    exposureFraction: null,
    measured: {
      clip: { file: 'led.mp4', sha256: '' },
      lightHz: 1000,
      lightUncertaintyRel: 5e-5,
      frames: 500,
      codedRect: { x: 0, y: 0, width: 10, height: 100 },
      modulation: 0.2,
      bandsPerPicture: 3.3,
      cyclesPerFrame: 4.12,
      ratesHz: { timestamps: 242.4, tag: null, stated: null, light: 242.4 },
    },
    warnings: [],
  };
});

const measure = (recipe: Recipe, file?: CameraCalibration) =>
  measureSamples(filmed.samples, filmed.times, filmed.facts, recipe, { camera: file });

describe('measure with a camera file', () => {
  it('uses its readout as a share of this clip’s own period, and says so', () => {
    const { record, recipe } = measure(open, camera);
    expect(record.timing).toMatchObject({ readoutSource: 'calibrated' });
    expect(record.timing.readoutFraction).toBeCloseTo(0.8, 5);
    expect(recipe.capture.readoutFraction).toBeNull();
  });
  it('gives the latencies of a stated readout, with the calibration’s uncertainty in the budget', () => {
    const stated = measure(filmed.recipe).record;
    const calibrated = measure(open, camera).record;
    const unknown = measure(open).record;
    const rowPart = (r: typeof stated) =>
      r.presses
        .flatMap((p) => p.responses.flatMap((s) => s.budget ?? []))
        .find((b) => b.name === 'row readout')?.standardUncertaintyMs ?? 0;
    const latencies = (r: typeof stated) => r.presses.map((p) => p.responses[0]!.latencyMs!);
    latencies(stated).forEach((ms, i) => {
      expect(latencies(calibrated)[i]).toBeCloseTo(ms, 2);
    });
    expect(rowPart(stated)).toBe(0);
    expect(rowPart(calibrated)).toBeGreaterThan(0);
    expect(rowPart(calibrated)).toBeLessThan(0.051);
    expect(rowPart(unknown)).toBeGreaterThan(3 * rowPart(calibrated));
    expect(unknown.timing).toMatchObject({ readoutSource: 'unknown', readoutFraction: null });
  });
  it('a statement in the recipe comes first', () => {
    expect(measure(filmed.recipe, camera).record.timing).toMatchObject({ readoutSource: 'stated' });
  });
  it('refuses another size, and another rate', () => {
    expect(() => measure(open, { ...camera, coded: { width: 1920, height: 1080 } })).toThrow(
      /1920 x 1080 coded px/,
    );
    expect(() => measure(open, { ...camera, captureRateHz: 120 })).toThrow(/120\.00 frames a second/);
  });
});

describe('parseCamera', () => {
  it('takes back what was written', () => {
    expect(parseCamera(JSON.stringify(camera), 'c.json')).toEqual(camera);
  });
  it.each([
    ['no JSON', '{', /not valid JSON/],
    ['another file', '{"format":"lagreel-recipe"}', /"format" is not "lagreel-camera"/],
    ['a later version', '{"format":"lagreel-camera","version":2}', /version 2/],
    ['nothing', 'null', /not a camera file/],
  ])('refuses %s', (_, text, what) => {
    expect(() => parseCamera(text, 'c.json')).toThrow(what);
  });
  it('refuses an unknown key and an interval that ends before it begins', () => {
    expect(() => parseCamera(JSON.stringify({ ...camera, lens: 1 }), 'c.json')).toThrow(/valid camera file/);
    const turned = { ...camera, readoutFractionInterval: [0.9, 0.7] };
    expect(() => parseCamera(JSON.stringify(turned), 'c.json')).toThrow(/readoutFractionInterval/);
  });
});
