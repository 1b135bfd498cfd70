import { describe, expect, it } from 'vitest';
import type { PixelRect } from '../../src/clip/frameSource.js';
import { passerShade, secondLedLight, thumbCover } from '../../src/simulate/disturbances.js';
import { ledLight } from '../../src/simulate/ledLight.js';
import { randomScene } from '../../src/simulate/randomScene.js';
import { simulateSource } from '../../src/simulate/renderSource.js';
import type { Scene } from '../../src/simulate/scene.js';
import { sceneSchedule } from '../../src/simulate/schedule.js';
import { latencyTruthMs } from '../../src/simulate/truth.js';
import { decodeLight, normaliseLuma } from '../../src/units.js';
import { middleMean } from './bruteForce.js';

const plain = randomScene(17, {
  widthPx: 96,
  heightPx: 64,
  presses: 3,
  content: ['toggle'],
  readoutFraction: [0, 0],
});
const clean: Scene = {
  ...plain,
  camera: { ...plain.camera, readNoise: 0, shotNoise: 0, bitDepth: 10, toneCurve: 'linear', frames: 60 },
};
const light = (code: number) => decodeLight(normaliseLuma(code, 10, 'limited'), 'linear');

async function frame(scene: Scene, index: number, rect?: PixelRect): Promise<Float64Array> {
  const source = simulateSource(scene);
  const whole = { x: 0, y: 0, width: source.facts.codedWidth, height: source.facts.codedHeight };
  let out = new Float64Array(0);
  await source.readRects([rect ?? whole], (k, planes) => {
    if (k === index) out = Float64Array.from(planes[0]!, light);
    return k < index;
  });
  return out;
}

// Rounding to 10 bit and a bilinear blend of smooth grain.
const CODE = 1.5 / 876;

describe('what gets between lamp, LED and camera', () => {
  it('a second LED: mean over an exposure equals a plain sum', () => {
    const led = { centerXPx: 0, centerYPx: 0, widthPx: 1, light: 0.7, periodS: 0.3, duty: 0.4, phase: 0.2 };
    const at = (t: number) => {
      const blink = t / led.periodS - led.phase;
      return blink - Math.floor(blink) < led.duty ? led.light : 0;
    };
    for (const [from, to] of [
      [0.01, 0.4],
      [1.06, 1.07],
      [0.17, 0.19],
    ] as const) {
      expect(secondLedLight(led, from, to)).toBeCloseTo(middleMean(at, from, to, 40_000), 4);
    }
  });

  it('contact bounce: the LED goes dark for exactly as long as the contact opens', () => {
    const led = { ...clean.led, riseMs: 0, offLight: 0, onLight: 1, bounces: [{ afterMs: 2, openMs: 1 }] };
    const [press] = sceneSchedule(clean).presses;
    const at = press!.pressS;
    expect(ledLight(led, [press!], at, at + 0.01)).toBeCloseTo(0.9, 9);
    expect(ledLight(led, [press!], at + 0.002, at + 0.003)).toBeCloseTo(0, 9);
  });

  it('a passer-by is darkest in the middle of the picture at his moment, and gone long before', () => {
    const passer = { middleS: 1, crossS: 1, widthPx: 10, depth: 0.5 };
    expect(passerShade(passer, 100, 1)!(50)).toBeCloseTo(0.5, 12);
    expect(passerShade(passer, 100, 1)!(60)).toBeCloseTo(0.5 * Math.exp(-0.5), 12);
    expect(passerShade(passer, 100, 1.25)!(75)).toBeCloseTo(0.5, 12);
    expect(passerShade(passer, 100, 0)).toBeNull();
  });

  it('a thumb covers its rectangle while it lies there, and slides', () => {
    const thumb = {
      rect: { x: 10, y: 20, width: 8, height: 4 },
      reflectance: 0.3,
      slideS: 0.1,
      moments: [{ fromS: 1, toS: 2 }],
    };
    expect(thumbCover(thumb, 21, 1.5)).toEqual([10, 18]);
    expect(thumbCover(thumb, 21, 0.95)![1]).toBeCloseTo(14, 9);
    expect(thumbCover(thumb, 21, 0.85)).toBeNull();
    expect(thumbCover(thumb, 25, 1.5)).toBeNull();
  });

  it('a covered pixel shows the skin under the lamp', async () => {
    const rect = { x: 40, y: 10, width: 6, height: 6 };
    const thumb = { rect, reflectance: 0.3, slideS: 0.01, moments: [{ fromS: 0, toS: 10 }] };
    const values = await frame({ ...clean, room: { ...clean.room, thumb } }, 3, rect);
    for (const v of values) expect(Math.abs(v - 0.3 * clean.room.ambientLight)).toBeLessThan(CODE);
  });

  it('an exposure step multiplies everything from its moment on', async () => {
    const step: Scene = {
      ...clean,
      camera: { ...clean.camera, exposureSteps: [{ atS: 9.5 / clean.camera.captureRateHz, factor: 0.7 }] },
    };
    const before = await frame(step, 9);
    const after = await frame(step, 10);
    const as = await frame(clean, 10);
    expect(before).toEqual(await frame(clean, 9));
    for (let i = 0; i < after.length; i += 37) expect(Math.abs(after[i]! - 0.7 * as[i]!)).toBeLessThan(CODE);
  });

  it('turning: the picture turned by the wobble and sampled by hand', async () => {
    const wobble = { turnDeg: 2, zoom: 0.01, periodS: 1 };
    const { wobbleAt } = await import('../../src/simulate/shake.js');
    const turned: Scene = { ...clean, camera: { ...clean.camera, wobble } };
    const still = await frame(clean, 5);
    const moved = await frame(turned, 5);
    const { captureRateHz, exposureFraction } = clean.camera;
    const { turn, zoom } = wobbleAt(turned)((5 + 0.5 * exposureFraction) / captureRateHz);
    expect(Math.abs(turn) + Math.abs(zoom)).toBeGreaterThan(0.002);
    const { widthPx: w, heightPx: h } = clean.picture;
    let compared = 0;
    for (let y = 10; y < h - 10; y += 3) {
      for (let x = 10; x < w - 10; x += 3) {
        const dx = x + 0.5 - w / 2;
        const dy = y + 0.5 - h / 2;
        const sx = x + zoom * dx + turn * dy;
        const sy = y + zoom * dy - turn * dx;
        const ix = Math.floor(sx);
        const iy = Math.floor(sy);
        const at = (i: number, j: number) => still[(iy + j) * w + ix + i]!;
        const upper = at(0, 0) + (at(1, 0) - at(0, 0)) * (sx - ix);
        const lower = at(0, 1) + (at(1, 1) - at(0, 1)) * (sx - ix);
        expect(Math.abs(moved[y * w + x]! - (upper + (lower - upper) * (sy - iy)))).toBeLessThan(CODE);
        compared++;
      }
    }
    expect(compared).toBeGreaterThan(100);
  });
});

describe('content that moves on', () => {
  it('a menu highlights one item after the other, and its truth is known', () => {
    const { rect } = clean.content;
    const menu: Scene = { ...clean, content: { ...clean.content, menuItems: 3 } };
    const { changes } = sceneSchedule(menu);
    expect(changes.map((c) => [c.from, c.to])).toEqual([
      [0, 1],
      [1, 2],
      [2, 0],
    ]);
    // Item 0 goes out above, item 1 lights below it: the upper third answers before the middle one.
    const third = Math.floor(rect.height / 3);
    const top = latencyTruthMs(menu, { ...rect, height: third - 1 }, 0.5)[0]!;
    const middle = latencyTruthMs(menu, { ...rect, y: rect.y + third + 1, height: third - 2 }, 0.5)[0]!;
    expect(middle - top).toBeGreaterThan(1);
    // The third item has no part in the first change.
    expect(
      latencyTruthMs(menu, { ...rect, y: rect.y + 2 * third + 3, height: third - 4 }, 0.5)[0],
    ).toBeNull();
  });

  it('a scrolled picture is shifted by its steps, to and fro', async () => {
    const scroll = { steps: 4, pxPerStep: 3, displayFramesPerStep: 6 };
    const content = { ...clean.content, scroll, textureDepth: 0.5, kind: 'patch' as const };
    const rect = { x: clean.screen.rect.x, y: clean.screen.rect.y, width: 4, height: 4 };
    const moving: Scene = {
      ...clean,
      content: { ...content, rect },
      screen: { ...clean.screen, phase: 0, display: { kind: 'oled', tauMs: 0.05 } },
      presses: { ...clean.presses, ignored: [0, 1, 2] },
      camera: { ...clean.camera, frames: 200 },
    };
    const { idleChanges } = sceneSchedule(moving);
    expect(idleChanges.slice(0, 7).map((c) => c.to)).toEqual([1, 2, 3, 2, 1, 0, 1]);
    const frameAt = (s: number) => Math.round(s * moving.camera.captureRateHz);
    const stepS = 6 / moving.screen.refreshHz;
    const early = await frame(moving, frameAt(0.6 * stepS));
    const late = await frame(moving, frameAt(1.6 * stepS));
    const w = moving.picture.widthPx;
    const { x, y, width } = moving.screen.rect;
    for (let i = x + 6; i < x + width - 8; i++) {
      const row = (y + 12) * w;
      expect(Math.abs(late[row + i]! - early[row + i + 3]!)).toBeLessThan(CODE);
    }
  });
});
