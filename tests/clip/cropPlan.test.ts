import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { copyRect, planCuts } from '../../src/clip/cropPlan.js';

const PICTURE = { codedWidth: 1920, codedHeight: 1080, pixelFormat: 'yuv420p', bitDepth: 8 };

describe('planning the cuts', () => {
  it('crops first, at whole chroma samples, each rectangle by itself', () => {
    const rects = [
      { x: 801, y: 201, width: 40, height: 40 },
      { x: 100, y: 800, width: 320, height: 80 },
    ];
    const plan = planCuts(rects, PICTURE);
    expect(plan.cutOf).toEqual([0, 1]);
    expect(plan.cuts.map((cut) => cut.filter)).toEqual([
      'crop=42:42:800:200,extractplanes=y',
      'crop=320:80:100:800,extractplanes=y',
    ]);
    expect(plan.cuts.map((cut) => cut.bytes)).toEqual([42 * 42, 320 * 80]);
    expect(planCuts(rects, { ...PICTURE, bitDepth: 10 }).cuts[1]!.bytes).toBe(2 * 320 * 80);
  });

  it('takes the plane first where the picture has odd sides', () => {
    const plan = planCuts([{ x: 1, y: 1, width: 3, height: 3 }], { ...PICTURE, codedWidth: 1919 });
    expect(plan.cuts[0]!.filter).toBe('extractplanes=y,crop=3:3:1:1');
  });

  it('holds every rectangle in its part, inside the picture, in no more than eight parts', () => {
    const rect = fc
      .record({
        x: fc.nat(1919),
        y: fc.nat(1079),
        w: fc.integer({ min: 1, max: 400 }),
        h: fc.integer({ min: 1, max: 400 }),
      })
      .map(({ x, y, w, h }) => ({ x, y, width: Math.min(w, 1920 - x), height: Math.min(h, 1080 - y) }));
    fc.assert(
      fc.property(fc.array(rect, { minLength: 1, maxLength: 20 }), (rects) => {
        const { cuts, cutOf } = planCuts(rects, PICTURE);
        expect(cuts.length).toBeLessThanOrEqual(8);
        rects.forEach((inner, k) => {
          const outer = cuts[cutOf[k]!]!.rect;
          expect(outer.x).toBeLessThanOrEqual(inner.x);
          expect(outer.y).toBeLessThanOrEqual(inner.y);
          expect(outer.x + outer.width).toBeGreaterThanOrEqual(inner.x + inner.width);
          expect(outer.y + outer.height).toBeGreaterThanOrEqual(inner.y + inner.height);
        });
        for (const { rect: outer } of cuts) {
          expect([outer.x % 2, outer.y % 2, outer.width % 2, outer.height % 2]).toEqual([0, 0, 0, 0]);
          expect(outer.x + outer.width).toBeLessThanOrEqual(1920);
          expect(outer.y + outer.height).toBeLessThanOrEqual(1080);
        }
      }),
      { seed: 7, numRuns: 200 },
    );
  });

  it('copies a rectangle out of its part', () => {
    const part = Uint8Array.from({ length: 6 * 4 }, (_, i) => i);
    const target = new Uint8Array(4);
    copyRect(
      part,
      { rect: { x: 10, y: 20, width: 6, height: 4 }, rowStep: 1 },
      { x: 13, y: 22, width: 2, height: 2 },
      target,
    );
    expect([...target]).toEqual([15, 16, 21, 22]);
  });
});
