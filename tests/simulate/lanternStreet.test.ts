import { describe, expect, it } from 'vitest';
import { checkScene } from '../../src/simulate/checkScene.js';
import { lanternStreetScene, lanternStreetScenes } from '../../src/simulate/lanternStreet.js';
import { simulateSource } from '../../src/simulate/renderSource.js';
import { sceneRegions } from '../../src/simulate/sceneRegions.js';
import { truthDocument } from '../../src/simulate/truthDocument.js';

describe('Lantern Street', () => {
  it('has four scenes of about twelve seconds with enough presses', () => {
    const scenes = lanternStreetScenes();
    expect(scenes.map((s) => s.name)).toEqual(['alder-flat', 'birch-variable', 'cedar-sprite', 'bench-tube']);
    for (const scene of scenes) {
      checkScene(scene);
      const seconds = scene.camera.frames / scene.camera.captureRateHz;
      expect(seconds).toBeGreaterThan(8);
      expect(seconds).toBeLessThan(14);
      expect(scene.camera.exposureFraction).toBeGreaterThanOrEqual(0.9);
      const truth = truthDocument(scene);
      expect(truth.presses.length).toBeGreaterThanOrEqual(12);
      // The last answer has settled before the clip ends.
      expect(truth.presses.at(-1)!.settledS!).toBeLessThan(seconds - 0.1);
      expect(lanternStreetScene(scene.name)).toEqual(scene);
    }
    expect(lanternStreetScene('nobody')).toBeUndefined();
  });

  it('keeps its LED within the range of the sensor and its screen visible', async () => {
    for (const scene of lanternStreetScenes()) {
      const { led, screen } = sceneRegions(scene);
      let brightest = 0;
      const means: number[] = [];
      await simulateSource({ ...scene, camera: { ...scene.camera, frames: 300 } }).readRects(
        [led, screen],
        (_, [ledLuma, screenLuma]) => {
          for (const code of ledLuma!) brightest = Math.max(brightest, code);
          let sum = 0;
          for (const code of screenLuma!) sum += code;
          means.push(sum / screenLuma!.length);
        },
      );
      expect(brightest).toBeGreaterThan(170);
      expect(brightest).toBeLessThan(235);
      if (scene.content.kind !== 'sprite')
        expect(Math.max(...means) - Math.min(...means)).toBeGreaterThan(60);
    }
  });
});
