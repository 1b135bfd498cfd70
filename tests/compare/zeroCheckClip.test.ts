/** A second LED on the same switch, from pixels to verdict: what the pipeline itself adds must be nothing. */
import { expect, it } from 'vitest';
import type { FrameSource, PixelRect } from '../../src/clip/frameSource.js';
import { compareRecords } from '../../src/compare/compareRecords.js';
import { measureClip } from '../../src/measure.js';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { emptyRecipe } from '../../src/record/parseRecipe.js';
import { randomScene } from '../../src/simulate/randomScene.js';
import { simulateSource } from '../../src/simulate/renderSource.js';
import { sceneRegions } from '../../src/simulate/sceneRegions.js';

/** The source with the LED's pixels shown again in another place of the same rows, with noise of its own. */
function withSecondLed(source: FrameSource, first: PixelRect, second: PixelRect): FrameSource {
  const random = seededRandom(4);
  const isSecond = (r: PixelRect): boolean => r.x === second.x && r.y === second.y;
  return {
    ...source,
    readRects: (rects, onFrame, options) =>
      source.readRects(
        rects.map((r) => (isSecond(r) ? first : r)),
        (index, planes) =>
          onFrame(
            index,
            planes.map((plane, i) =>
              isSecond(rects[i]!)
                ? plane.map((v) => Math.min(235, Math.max(16, v + Math.round(random.normal(0, 1.5)))))
                : plane,
            ),
          ),
        options,
      ),
  };
}

it.each([
  [0.95, 3],
  [0.5, 5],
])('exposure fraction %f: zero within its uncertainty', async (exposureFraction, seed) => {
  const scene = randomScene(seed, {
    widthPx: 240,
    heightPx: 136,
    presses: 12,
    exposureFraction: [exposureFraction, exposureFraction],
  });
  const simulated = simulateSource(scene);
  const { led } = sceneRegions(scene);
  const second = { ...led, x: led.x > 120 ? led.x - 100 : led.x + 100 };
  const { facts } = simulated;
  const base = emptyRecipe({ file: 'two-leds.mp4', sha256: facts.sha256, bytes: facts.bytes });
  const { record } = await measureClip(withSecondLed(simulated, led, second), {
    ...base,
    labels: { check: 'zero' },
    regions: [
      { name: 'led', role: 'led', ...led },
      { name: 'second led', role: 'screen', ...second },
    ],
    response: { ...base.response, windowMs: [-50, 200] },
  });
  const { zeroCheck } = compareRecords(
    [{ record, recordPath: 'two-leds.record.json', reportPath: 'two-leds.report.html' }],
    { by: ['chain'], baseline: null },
  );
  console.log(zeroCheck.sentence);
  expect(zeroCheck.clips[0]!.n).toBeGreaterThanOrEqual(10);
  expect(zeroCheck.status).toBe('passed');
  // A check that could not fail would be worth nothing: the interval is narrow.
  const [low, high] = zeroCheck.clips[0]!.intervalMs;
  expect(high - low).toBeLessThan(1.5);
});
