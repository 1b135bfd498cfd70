import { describe, expect, it } from 'vitest';
import type { PixelRect } from '../../src/clip/frameSource.js';
import { contentLightAt } from '../../src/simulate/picture.js';
import { randomScene } from '../../src/simulate/randomScene.js';
import { simulateSource } from '../../src/simulate/renderSource.js';
import type { Scene } from '../../src/simulate/scene.js';
import type { SceneOptions } from '../../src/simulate/sceneOptions.js';
import { sceneSchedule } from '../../src/simulate/schedule.js';
import { latencyTruthMs, responseTruth } from '../../src/simulate/truth.js';
import { lightOfLine } from './bruteForce.js';

function regionOf(scene: Scene): PixelRect {
  const { x, y, width, height } = scene.content.rect;
  return {
    x: x + Math.round(width / 4),
    y: y + Math.round(height / 3),
    width: Math.max(4, Math.round(width / 6)),
    height: Math.max(4, Math.round(height / 8)),
  };
}

/** First time at which the region's light passes a level, by stepping through time. s. */
function steppedOnset(scene: Scene, rect: PixelRect, level: number, weight: (d: number) => number): number {
  const { changes } = sceneSchedule(scene);
  const change = changes.find((c) => c.press === 0)!;
  const { rect: screen } = scene.screen;
  const rows = Array.from({ length: rect.height }, (_, row) => {
    let up = 0;
    let down = 0;
    for (let x = rect.x; x < rect.x + rect.width; x++) {
      const y = rect.y + row;
      const d = contentLightAt(scene, change.to, x, y) - contentLightAt(scene, change.from, x, y);
      if (d > 0) up += weight(d);
      else down += weight(d);
    }
    return { up, down, at: rect.y + row - screen.y };
  });
  const total = rows.reduce((s, r) => s + r.up + r.down, 0);
  const stepS = 2e-5;
  for (let tS = change.atS; ; tS += stepS) {
    let sum = 0;
    for (const { up, down, at } of rows) {
      for (const part of [0.25, 0.75]) {
        const height = (at + part) / screen.height;
        sum += 0.5 * up * lightOfLine(scene.screen, height, tS, change.atS, true);
        sum += 0.5 * down * (1 - lightOfLine(scene.screen, height, tS, change.atS, false));
      }
    }
    if (sum / total >= level) return tS - 0.5 * stepS;
  }
}

const cases: readonly [string, SceneOptions][] = [
  ['flash', {}],
  ['darken', { content: ['darken'], riseTauMs: [2, 2] }],
  ['patch on a quick panel', { content: ['patch'], display: ['oled'] }],
  ['sprite', { content: ['sprite'], riseTauMs: [3, 3] }],
];

describe('truth', () => {
  it.each(cases)('%s: levels agree with stepping through time', (_, options) => {
    const scene = randomScene(31, { widthPx: 240, heightPx: 160, presses: 1, ...options });
    const rect = regionOf(scene);
    const weight = scene.content.kind === 'sprite' ? (d: number) => d * d : (d: number) => d;
    for (const level of [0.1, 0.5, 0.9]) {
      const exact = responseTruth(scene, rect, level)[0]!;
      // Time steps of 20 us and two lines a pixel row.
      expect(Math.abs(exact - steppedOnset(scene, rect, level, weight))).toBeLessThan(4e-5);
    }
  });

  it('first light is the scan of the upper edge, then levels follow in order', () => {
    const scene = randomScene(32, { presses: 4 });
    const rect = regionOf(scene);
    const { screen } = scene;
    const [first, low, half, high] = (['first-light', 0.1, 0.5, 0.9] as const).map((l) =>
      responseTruth(scene, rect, l),
    );
    for (const press of sceneSchedule(scene).presses) {
      const i = press.index;
      const upperS =
        ((rect.y - screen.rect.y) / screen.rect.height) * (screen.activeFraction / screen.refreshHz);
      expect(first![i]).toBeCloseTo(press.changeS! + upperS, 9);
      expect(first![i]!).toBeLessThan(low![i]!);
      expect(low![i]!).toBeLessThan(half![i]!);
      expect(half![i]!).toBeLessThan(high![i]!);
      expect(latencyTruthMs(scene, rect, 0.5)[i]).toBeCloseTo((half![i]! - press.pressS) * 1000, 9);
    }
  });

  it('a tube passes each level while the beam crosses the region', () => {
    const scene = randomScene(33, { presses: 1, display: ['tube'] });
    const rect = regionOf(scene);
    const first = responseTruth(scene, rect, 'first-light')[0]!;
    const half = responseTruth(scene, rect, 0.5)[0]!;
    const high = responseTruth(scene, rect, 0.9)[0]!;
    const crossingS =
      (rect.height / scene.screen.rect.height) * (scene.screen.activeFraction / scene.screen.refreshHz);
    // The still texture weights the rows by up to 10 %.
    expect(Math.abs((half - first) / crossingS - 0.5)).toBeLessThan(0.05);
    expect(Math.abs((high - first) / crossingS - 0.9)).toBeLessThan(0.05);
  });

  it('a strobed display answers with a backlight pulse', () => {
    const scene = randomScene(34, { presses: 3, display: ['strobed'], riseTauMs: [1, 1] });
    const display = scene.screen.display;
    if (display.kind !== 'strobed') throw new Error('not strobed');
    for (const onset of responseTruth(scene, regionOf(scene), 0.1)) {
      const pulses = onset! * scene.screen.refreshHz - scene.screen.phase - display.pulseStart;
      expect(Math.abs(pulses - Math.round(pulses))).toBeLessThan(1e-6);
    }
  });

  it('has nothing to say about ignored presses and regions that do not change', () => {
    const plain = randomScene(35, { presses: 3, content: ['patch'] });
    const scene: Scene = { ...plain, presses: { ...plain.presses, ignored: [1] } };
    const onsets = responseTruth(scene, regionOf(scene), 0.1);
    expect(onsets.map((o) => o === null)).toEqual([false, true, false]);
    const { rect } = scene.screen;
    const away = { x: rect.x, y: rect.y + rect.height - 8, width: 8, height: 8 };
    expect(responseTruth(scene, away, 0.1)).toEqual([null, null, null]);
    expect(responseTruth(scene, { x: 0, y: 0, width: 2, height: 2 }, 0.1)).toEqual([null, null, null]);
  });

  it('does not depend on rotation, camera or room', () => {
    const scene = randomScene(36, { presses: 2 });
    const other: Scene = {
      ...scene,
      picture: { ...scene.picture, rotationDeg: 90 },
      room: { ...scene.room, ambientLight: 0.1 },
      camera: { ...scene.camera, exposureFraction: 0.2, readoutFraction: 0.1 },
    };
    expect(responseTruth(other, regionOf(scene), 0.1)).toEqual(responseTruth(scene, regionOf(scene), 0.1));
    expect(simulateSource(scene).truth.presses).toEqual(sceneSchedule(scene).presses);
  });

  it('a sprite that turns round leaves the mean brightness of its field alone', () => {
    const drawn = randomScene(37, { content: ['sprite'] });
    const sprite = { ...drawn.content.sprite!, move: 'mirror' as const, jumpPx: 0 };
    const scene: Scene = { ...drawn, content: { ...drawn.content, sprite } };
    const { rect } = scene.content;
    let before = 0;
    let after = 0;
    let moved = 0;
    for (let y = rect.y; y < rect.y + rect.height; y++) {
      for (let x = rect.x; x < rect.x + rect.width; x++) {
        before += contentLightAt(scene, 0, x, y);
        after += contentLightAt(scene, 1, x, y);
        moved += Math.abs(contentLightAt(scene, 1, x, y) - contentLightAt(scene, 0, x, y));
      }
    }
    expect(Math.abs(after - before) / before).toBeLessThan(0.005);
    expect(moved / before).toBeGreaterThan(0.1);
  });
});
