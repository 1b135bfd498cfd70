import { describe, expect, it } from 'vitest';
import type { PixelRect } from '../../src/clip/frameSource.js';
import { findRegions } from '../../src/region/findRegions.js';
import { checkRegion } from '../../src/region/geometry.js';
import { randomScene, withLengthOf } from '../../src/simulate/randomScene.js';
import { simulateSource } from '../../src/simulate/renderSource.js';
import type { Scene } from '../../src/simulate/scene.js';
import type { SceneOptions } from '../../src/simulate/sceneOptions.js';

function scene(seed: number, options: SceneOptions = {}): Scene {
  const plain: SceneOptions = { widthPx: 240, heightPx: 136, presses: 4, captureRateHz: [120] };
  const drawn = randomScene(seed, { ...plain, ...options });
  // Presses close together keep the clip short.
  const presses = { ...drawn.presses, intervalMinS: 0.36, intervalMaxS: 0.6 };
  return withLengthOf({ ...drawn, presses }, 0.55);
}

const find = (s: Scene) => findRegions(simulateSource(s), { rateHz: s.camera.captureRateHz });

/** Share of `part` that lies inside `whole`. */
function inside(part: PixelRect, whole: PixelRect): number {
  const width = Math.min(part.x + part.width, whole.x + whole.width) - Math.max(part.x, whole.x);
  const height = Math.min(part.y + part.height, whole.y + whole.height) - Math.max(part.y, whole.y);
  return (Math.max(0, width) * Math.max(0, height)) / (part.width * part.height);
}

const cases: readonly (readonly [string, number, SceneOptions])[] = [
  ['flash', 12, { content: ['flash'] }],
  ['toggle on a turned picture', 12, { content: ['toggle'], rotationDeg: [90] }],
  ['patch', 11, { content: ['patch'] }],
  ['patch whose LED goes out soon after it', 12, { content: ['patch'], captureRateHz: [240] }],
  ['sprite', 12, { content: ['sprite'] }],
  ['darken, by an LED that goes out on a press', 13, { content: ['darken'], ledEdge: ['goes-off-on-press'] }],
];

// Scenes in which LED and screen were once taken for each other.
const oncePuzzling: readonly (readonly [string, number, SceneOptions])[] = [
  ['patch whose LED goes out soon after it', 20, { content: ['patch'], captureRateHz: [240] }],
  ['sprite beside something that moves by itself', 13, { content: ['sprite'], idle: true }],
];

async function expectTruth(seed: number, options: SceneOptions): Promise<void> {
  const s = scene(seed, options);
  const { regions, notes } = await find(s);
  const led = regions.filter((r) => r.role === 'led');
  const screens = regions.filter((r) => r.role === 'screen');
  expect(led, `seed ${seed}: ${notes.join(' ')}`).toHaveLength(1);
  expect(screens.length).toBeGreaterThanOrEqual(1);
  for (const region of regions) expect(() => checkRegion(region, simulateSource(s).facts)).not.toThrow();
  expect(new Set(regions.map((r) => r.name)).size).toBe(regions.length);
  // The LED's middle lies in its region, and the region is not half the picture.
  const { centerXPx: x, centerYPx: y, widthPx } = s.led;
  const middle = { x: Math.floor(x), y: Math.floor(y), width: 1, height: 1 };
  expect(inside(middle, led[0]!), `seed ${seed}`).toBe(1);
  expect(led[0]!.width).toBeLessThan(6 * widthPx);
  for (const screen of screens) {
    // The region may stand out by an overview block (1.5 px) on each side.
    expect(inside(screen, s.content.rect), `seed ${seed}, ${screen.name}`).toBeGreaterThan(0.7);
    expect(inside(screen, led[0]!)).toBe(0);
  }
}

describe('finding LED and screen', () => {
  it.each(cases)('%s (seed %d)', (_, seed, options) => expectTruth(seed, options));

  it.each(oncePuzzling)('once taken the wrong way round: %s (seed %d)', (_, seed, options) =>
    expectTruth(seed, options),
  );

  it('finds nothing in a clip where nothing changes, and says so', async () => {
    const still = scene(321);
    const { regions, unsure, confidence, notes } = await find({
      ...still,
      led: { ...still.led, onLight: still.led.offLight },
      presses: { ...still.presses, ignored: [0, 1, 2, 3] },
      camera: { ...still.camera, frames: 120 },
    });
    expect(regions).toEqual([]);
    expect(unsure).toBe(true);
    expect(confidence).toBe(0);
    expect(notes).toHaveLength(1);
    expect(notes[0]).toMatch(/Nothing in the picture changes|No small two-level light/);
  });

  async function expectNothing(kind: 'patch' | 'flash', seed: number): Promise<void> {
    const s = scene(seed, { content: [kind], readNoise: [0.003, 0.003] });
    const { regions, unsure, notes } = await find({ ...s, led: { ...s.led, onLight: s.led.offLight } });
    expect(regions, `seed ${seed}`).toEqual([]);
    expect(unsure).toBe(true);
    expect(notes).toHaveLength(1);
  }

  it('makes no LED out of a whole screen alone', () => expectNothing('flash', 322));

  it('takes no small patch for the LED and a few noisy pixels for the screen', () =>
    expectNothing('patch', 322));

  it('stops when told to', async () => {
    const s = scene(323);
    const reason = new Error('enough');
    const found = findRegions(simulateSource(s), { rateHz: 120, signal: AbortSignal.abort(reason) });
    await expect(found).rejects.toBe(reason);
  });
});
