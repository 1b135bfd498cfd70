import { describe, expect, it } from 'vitest';
import type { FrameSource, PixelRect } from '../../src/clip/frameSource.js';
import { uprightSize } from '../../src/clip/frameSource.js';
import { codedToUpright, uprightToCoded } from '../../src/simulate/orient.js';
import { randomScene } from '../../src/simulate/randomScene.js';
import { simulateSource } from '../../src/simulate/renderSource.js';
import type { Scene } from '../../src/simulate/scene.js';
import type { SceneOptions } from '../../src/simulate/sceneOptions.js';
import { decodeLight, normaliseLuma } from '../../src/units.js';

/** The scene without noise, on a finer scale, so that values can be compared with theory. */
function clean(scene: Scene): Scene {
  return {
    ...scene,
    camera: { ...scene.camera, readNoise: 0, shotNoise: 0, bitDepth: 10, toneCurve: 'linear' },
  };
}

function short(scene: Scene, frames: number): Scene {
  return { ...scene, camera: { ...scene.camera, frames } };
}

/** The scene with its presses and answers within the first quarter of a second. */
function busy(scene: Scene): Scene {
  return {
    ...scene,
    presses: { ...scene.presses, leadInS: 0.02, intervalMinS: 0.08, intervalMaxS: 0.12 },
    latency: { ...scene.latency, fixedDelayMs: 20 },
  };
}

async function planes(source: FrameSource, rects: readonly PixelRect[]): Promise<number[][][]> {
  const out: number[][][] = [];
  await source.readRects(rects, (_, given) => {
    out.push(given.map((plane) => [...plane]));
  });
  return out;
}

/** Code values of a rectangle inside another rectangle's plane. */
function cut(plane: readonly number[], outer: PixelRect, inner: PixelRect): number[] {
  const out: number[] = [];
  for (let y = inner.y; y < inner.y + inner.height; y++) {
    for (let x = inner.x; x < inner.x + inner.width; x++) {
      out.push(plane[(y - outer.y) * outer.width + x - outer.x]!);
    }
  }
  return out;
}

const light10 = (code: number): number => decodeLight(normaliseLuma(code, 10, 'limited'), 'linear');
const whole = (source: FrameSource): PixelRect => ({
  x: 0,
  y: 0,
  width: source.facts.codedWidth,
  height: source.facts.codedHeight,
});
const small: SceneOptions = { widthPx: 64, heightPx: 48, presses: 2 };

describe('simulated source', () => {
  const cases: readonly [string, SceneOptions][] = [
    ['plain', {}],
    ['turned by 90 degrees', { rotationDeg: [90] }],
    ['shaking, rippling, mirrored', { shakePx: [0.8, 0.8], rippleDepth: [0.1, 0.1], reflection: true }],
    ['a tube turned by 270 degrees, shaking', { display: ['tube'], rotationDeg: [270], shakePx: [0.5, 0.5] }],
    ['a sprite with something moving elsewhere', { content: ['sprite'], idle: true, bitDepth: [10] }],
  ];
  it.each(cases)('%s: frames do not depend on what is asked for', async (_, options) => {
    const source = simulateSource(busy(short(randomScene(11, { ...small, ...options }), 60)));
    const inner = { x: 21, y: 13, width: 17, height: 22 };
    const odd = { x: 0, y: 40, width: 1, height: 3 };
    const all = await planes(source, [whole(source)]);
    const parts = await planes(source, [inner, odd]);
    expect(parts.map((p) => p[0])).toEqual(all.map((p) => cut(p[0]!, whole(source), inner)));
    expect(parts.map((p) => p[1])).toEqual(all.map((p) => cut(p[0]!, whole(source), odd)));
    expect(new Set(all.map((p) => p[0]!.join())).size).toBe(60);
    const screenChanges = source.truth.changes.filter((c) => c.atS < 0.2);
    expect(screenChanges.length).toBeGreaterThan(0);
  });

  it('gives the same frames twice, and others for another seed', async () => {
    const scene = short(randomScene(12, small), 40);
    const rect = { x: 4, y: 4, width: 20, height: 20 };
    const once = await planes(simulateSource(scene), [rect]);
    expect(await planes(simulateSource(scene), [rect])).toEqual(once);
    expect(await planes(simulateSource({ ...scene, seed: 13 }), [rect])).not.toEqual(once);
  });

  it('states facts and timestamps of a stretched file', async () => {
    const plain = short(randomScene(14, small), 10);
    const scene: Scene = {
      ...plain,
      picture: { ...plain.picture, rotationDeg: 90 },
      camera: { ...plain.camera, storedRateHz: 30, captureTag: true, droppedFrames: [3, 4] },
    };
    const source = simulateSource(scene);
    expect(source.facts).toMatchObject({
      codec: 'simulated',
      codedWidth: 48,
      codedHeight: 64,
      captureRateTagHz: 240,
    });
    expect(uprightSize(source.facts)).toEqual({ width: 64, height: 48 });
    const times = await source.readRects([{ x: 0, y: 0, width: 2, height: 2 }], () => {});
    expect([...times.ptsTicks]).toEqual([0, 1, 2, 5, 6, 7, 8, 9].map((k) => k * 3000));
    expect(source.truth.captureIndex).toEqual([0, 1, 2, 5, 6, 7, 8, 9]);
  });

  it('repeats a doubled frame exactly, noise and all', async () => {
    const plain = short(randomScene(15, small), 8);
    const scene = { ...plain, camera: { ...plain.camera, doubledFrames: [5] } };
    const frames = await planes(simulateSource(scene), [{ x: 0, y: 0, width: 30, height: 30 }]);
    expect(frames[5]).toEqual(frames[4]);
    expect(frames[6]).not.toEqual(frames[5]);
  });

  it('stops when told to, by the callback or by a signal', async () => {
    const source = simulateSource(randomScene(16, small));
    const rect = { x: 0, y: 0, width: 4, height: 4 };
    const early = await source.readRects([rect], (index) => index < 3);
    expect(early.stoppedEarly).toBe(true);
    expect(early.ptsTicks).toHaveLength(4);
    const reason = new Error('enough');
    const before = source.readRects([rect], () => {}, { signal: AbortSignal.abort(reason) });
    await expect(before).rejects.toBe(reason);
    const stop = new AbortController();
    const later = source.readOverview(
      16,
      (index) => {
        if (index === 5) stop.abort(reason);
        return undefined;
      },
      { signal: stop.signal },
    );
    await expect(later).rejects.toBe(reason);
  });

  it('refuses rectangles outside the picture', async () => {
    const source = simulateSource(randomScene(17, small));
    for (const rect of [
      { x: 60, y: 0, width: 10, height: 4 },
      { x: 0.5, y: 0, width: 4, height: 4 },
      { x: 0, y: 0, width: 0, height: 4 },
    ]) {
      await expect(source.readRects([rect], () => {})).rejects.toThrow(
        /expected rect to be whole pixels inside/,
      );
    }
  });

  it('each row opens later by the readout: the LED onset is recovered from every row', async () => {
    const plain = clean(
      randomScene(18, { widthPx: 128, heightPx: 96, presses: 3, exposureFraction: [1, 1] }),
    );
    const scene: Scene = {
      ...plain,
      led: {
        ...plain.led,
        shape: 'rect',
        widthPx: 10,
        heightPx: 60,
        centerYPx: 48,
        haloRadiusPx: 0,
        riseMs: 0,
      },
      room: { ...plain.room, ripple: null },
      camera: { ...plain.camera, readoutFraction: 0.8 },
    };
    const source = simulateSource(scene);
    const periodS = 1 / scene.camera.captureRateHz;
    const column = { x: Math.round(scene.led.centerXPx), y: 22, width: 1, height: 52 };
    const frames = await planes(source, [column]);
    const { pressS } = source.truth.presses[0]!;
    const near = Math.floor(pressS / periodS);
    for (let row = 0; row < column.height; row++) {
      const values = frames.map((f) => light10(f[0]![row]!));
      const before = values[near - 3]!;
      const after = values[near + 3]!;
      // Area under the normalised trace (method, section 4), exact for an exposure over the whole period.
      let lit = 0;
      for (let k = near - 3; k <= near + 3; k++) lit += (values[k]! - before) / (after - before);
      const openS = (near + 4 + (0.8 * (column.y + row)) / 96) * periodS;
      // One code value of 876 in a step of about half the range, times a few frames.
      expect(Math.abs(openS - lit * periodS - pressS)).toBeLessThan(0.01 * periodS);
    }
  });

  it('shows the same test upright whatever the rotation', async () => {
    const base = busy(clean(short(randomScene(19, { ...small, readoutFraction: [0, 0] }), 60)));
    const upright: string[][] = [];
    for (const rotationDeg of [0, 90, 180, 270] as const) {
      const scene: Scene = { ...base, picture: { ...base.picture, rotationDeg } };
      const source = simulateSource(scene);
      const size = whole(source);
      const frames = await planes(source, [size]);
      upright.push(
        frames.map(([plane]) => {
          const turned: number[] = [];
          for (let y = 0; y < 48; y++) {
            for (let x = 0; x < 64; x++) {
              const at = uprightToCoded(scene.picture, { x, y, width: 1, height: 1 });
              turned.push(plane![at.y * size.width + at.x]!);
            }
          }
          return turned.join();
        }),
      );
    }
    expect(new Set(upright[0]).size).toBeGreaterThan(3);
    expect(upright[1]).toEqual(upright[0]);
    expect(upright[2]).toEqual(upright[0]);
    expect(upright[3]).toEqual(upright[0]);
  });

  it('turns rectangles there and back', () => {
    const rect = { x: 3, y: 11, width: 20, height: 7 };
    for (const rotationDeg of [0, 90, 180, 270] as const) {
      const picture = { widthPx: 96, heightPx: 64, rotationDeg };
      expect(codedToUpright(picture, uprightToCoded(picture, rect))).toEqual(rect);
    }
  });

  it('has the noise it was given', async () => {
    const plain = short(randomScene(20, { ...small, readNoise: [0.01, 0.01], shotNoise: [0.04, 0.04] }), 400);
    const scene: Scene = { ...plain, camera: { ...plain.camera, toneCurve: 'linear', bitDepth: 10 } };
    const rect = { x: 2, y: 2, width: 6, height: 4 };
    const noisy = await planes(simulateSource(scene), [rect]);
    const still = await planes(simulateSource(clean(scene)), [rect]);
    let squares = 0;
    let expected = 0;
    for (let i = 0; i < 24; i++) {
      const truth = light10(still[0]![0]![i]!);
      for (const frame of noisy.slice(0, 70)) squares += (light10(frame[0]![i]!) - truth) ** 2;
      expected += 70 * (0.01 ** 2 + 0.04 ** 2 * truth);
    }
    // 1680 values: four standard deviations of a variance are 4 * sqrt(2/1680) = 14 %.
    expect(Math.abs(squares / expected - 1)).toBeLessThan(0.14);
  });

  it('the overview is the block average of the picture, as far as noise and curve allow', async () => {
    const scene = clean(short(randomScene(21, { widthPx: 160, heightPx: 90, presses: 1 }), 120));
    const source = simulateSource(scene);
    const frames = await planes(source, [whole(source)]);
    let worst = 0;
    await source.readOverview(40, (index, plane, width, height) => {
      expect([width, height]).toEqual([40, 23]);
      for (let column = 0; column < width; column++) {
        const top = Math.floor((10 * 90) / 23);
        const bottom = Math.floor((11 * 90) / 23);
        const block = cut(frames[index]![0]!, whole(source), {
          x: column * 4,
          y: top,
          width: 4,
          height: bottom - top,
        });
        const mean = block.reduce((a, b) => a + b) / block.length;
        worst = Math.max(worst, Math.abs(plane[10 * width + column]! - mean));
      }
      return undefined;
    });
    // A block is exposed as its middle row: during a change of 700 codes within a frame, rows differ by a few codes.
    expect(worst).toBeLessThan(12);
  });

  it('a still is upright and grey', async () => {
    const source = simulateSource(
      randomScene(22, { widthPx: 64, heightPx: 96, rotationDeg: [90], presses: 1 }),
    );
    const still = await source.readStill(0.1, 32);
    expect([still.width, still.height, still.rgb.length]).toEqual([32, 48, 32 * 48 * 3]);
    expect(still.rgb[0]).toBe(still.rgb[1]);
    expect(new Set(still.rgb).size).toBeGreaterThan(10);
  });
});
