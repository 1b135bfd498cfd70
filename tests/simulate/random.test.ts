import { createHash } from 'node:crypto';
import { describe, expect, it } from 'vitest';
import { checkScene } from '../../src/simulate/checkScene.js';
import { hashWords, normalTable, seededStream } from '../../src/simulate/random.js';
import { randomScene } from '../../src/simulate/randomScene.js';
import { sceneHash, sha256Hex } from '../../src/simulate/sceneHash.js';

describe('randomness of scenes', () => {
  it('streams repeat for a seed and differ between seeds and purposes', () => {
    const take = (seed: number, purpose: number): number[] => {
      const stream = seededStream(seed, purpose);
      return Array.from({ length: 5 }, () => stream.next());
    };
    expect(take(1, 2)).toEqual(take(1, 2));
    expect(take(1, 2)).not.toEqual(take(1, 3));
    expect(take(1, 2)).not.toEqual(take(2, 2));
  });

  it('is uniform in mean and variance, and normal where asked', () => {
    const stream = seededStream(9, 9);
    const n = 20_000;
    const uniform = Array.from({ length: n }, () => stream.next());
    const normal = Array.from({ length: n }, () => stream.normal());
    const mean = (xs: readonly number[]): number => xs.reduce((a, b) => a + b) / n;
    expect(Math.abs(mean(uniform) - 0.5)).toBeLessThan(4 / Math.sqrt(12 * n));
    expect(Math.abs(mean(normal))).toBeLessThan(4 / Math.sqrt(n));
    expect(Math.abs(mean(normal.map((x) => x * x)) - 1)).toBeLessThan(4 * Math.sqrt(2 / n));
  });

  it('noise of neighbouring pixels and frames is unrelated', () => {
    const table = normalTable();
    const noise = (frame: number, x: number): number => table[hashWords(5, frame, 7, x) >>> 20]!;
    let acrossX = 0;
    let acrossFrames = 0;
    const n = 20_000;
    for (let i = 0; i < n; i++) {
      acrossX += noise(3, i) * noise(3, i + 1);
      acrossFrames += noise(i, 3) * noise(i + 1, 3);
    }
    expect(Math.abs(acrossX / n)).toBeLessThan(4 / Math.sqrt(n));
    expect(Math.abs(acrossFrames / n)).toBeLessThan(4 / Math.sqrt(n));
  });

  it('the table holds normal quantiles (0.6745 and 1.6449 at 75 % and 95 %)', () => {
    const table = normalTable();
    expect(table[Math.round(0.75 * table.length)]).toBeCloseTo(0.6745, 2);
    expect(table[Math.round(0.95 * table.length)]).toBeCloseTo(1.6449, 2);
    expect(table[0]).toBe(-table[table.length - 1]!);
  });

  it('hashes as SHA-256 does', () => {
    for (const text of ['', 'abc', 'a'.repeat(55), 'b'.repeat(56), 'c'.repeat(1000)]) {
      const bytes = new TextEncoder().encode(text);
      expect(sha256Hex(bytes)).toBe(createHash('sha256').update(bytes).digest('hex'));
    }
    expect(sceneHash(randomScene(1))).not.toBe(sceneHash(randomScene(2)));
  });

  it('every drawn scene could be filmed: LED apart from the screen, lights not clipped', () => {
    for (let seed = 0; seed < 200; seed++) {
      const scene = randomScene(seed, {
        display: ['panel', 'oled', 'tube', 'strobed', 'pwm'],
        content: ['flash', 'toggle', 'patch', 'sprite', 'darken', 'low-contrast'],
        rotationDeg: [0, 90, 180, 270],
        idle: true,
        reflection: true,
        misbehaviour: 1,
        ...(seed % 2 ? { widthPx: 270, heightPx: 480 } : {}),
      });
      checkScene(scene);
      const { rect, bezelPx } = scene.screen;
      const { centerXPx, centerYPx, widthPx } = scene.led;
      const outX = Math.max(rect.x - centerXPx, centerXPx - rect.x - rect.width);
      const outY = Math.max(rect.y - centerYPx, centerYPx - rect.y - rect.height);
      expect(Math.max(outX, outY)).toBeGreaterThan(bezelPx + widthPx);
    }
  });
});
