/** Regions stay whole, inside the picture and big enough, whatever is done to them. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  dragged,
  freeName,
  LEAST_SIDE_PX,
  moved,
  nameFault,
  placedAt,
  type Rectangle,
  resized,
  roleFault,
  sameRegions,
  without,
  withRegion,
} from '../../src/desk/page/logic/regionEdits.js';

const picture = { width: 480, height: 270 };
const led = { name: 'led', role: 'led', x: 80, y: 122, width: 24, height: 24 } as const;
const screen = { name: 'screen', role: 'screen', x: 300, y: 116, width: 48, height: 36 } as const;

const isGood = (r: Rectangle): boolean =>
  [r.x, r.y, r.width, r.height].every(Number.isInteger) &&
  r.x >= 0 &&
  r.y >= 0 &&
  r.width >= LEAST_SIDE_PX &&
  r.height >= LEAST_SIDE_PX &&
  r.x + r.width <= picture.width &&
  r.y + r.height <= picture.height;

const number = fc.double({ min: -1000, max: 1000, noNaN: true });
const side = fc.constantFrom<-1 | 0 | 1>(-1, 0, 1);

describe('region edits', () => {
  it('the judge of good rectangles can say no', () => {
    expect(isGood({ x: 479, y: 0, width: 2, height: 2 })).toBe(false);
    expect(isGood({ x: 0.5, y: 0, width: 2, height: 2 })).toBe(false);
  });
  it('any drag, move and resize gives a good rectangle', () => {
    fc.assert(
      fc.property(number, number, number, number, side, side, (a, b, c, d, horizontal, vertical) => {
        const drawn = dragged({ x: a, y: b }, { x: c, y: d }, picture);
        const pushed = moved(drawn, c, d, picture);
        const pulled = resized(drawn, { horizontal, vertical }, a, b, picture);
        return [drawn, pushed, pulled, placedAt({ x: a, y: b }, picture)].every(isGood);
      }),
    );
  });
  it('a drag covers both corners, in any direction', () => {
    const expected = { x: 10, y: 20, width: 31, height: 21 };
    expect(dragged({ x: 10.2, y: 20.7 }, { x: 40.5, y: 40.1 }, picture)).toEqual(expected);
    expect(dragged({ x: 40.5, y: 40.1 }, { x: 10.2, y: 20.7 }, picture)).toEqual(expected);
  });
  it('moving keeps the size at the edge, and everything that is not geometry', () => {
    expect(moved(led, -500, 10, picture)).toEqual({ ...led, x: 0, y: 132 });
    expect(moved(led, 999, 999, picture)).toEqual({ ...led, x: 456, y: 246 });
  });
  it('resizing holds the other side', () => {
    expect(resized(screen, { horizontal: -1, vertical: 0 }, 20, 5, picture)).toEqual({
      ...screen,
      x: 320,
      width: 28,
    });
    const far = resized(screen, { horizontal: -1, vertical: 0 }, 900, 0, picture);
    expect([far.x + far.width, far.width]).toEqual([348, LEAST_SIDE_PX]);
  });
  it('there is one LED: drawing it again moves it', () => {
    const again = withRegion([led, screen], 'led', { x: 1, y: 2, width: 30, height: 31 });
    expect(again).toEqual([{ ...led, x: 1, y: 2, width: 30, height: 31 }, screen]);
    expect(roleFault([led, screen], 1, 'led')).toContain('led');
    expect(roleFault([led, screen], 0, 'led')).toBeNull();
  });
  it('names are free, filled and told apart', () => {
    const two = withRegion([led, screen], 'screen', { x: 1, y: 2, width: 3, height: 4 });
    expect(two.map((r) => r.name)).toEqual(['led', 'screen', 'screen 2']);
    expect(freeName(without(two, 1), 'screen')).toBe('screen');
    expect(nameFault(two, 2, 'screen')).not.toBeNull();
    expect(nameFault(two, 2, ' ')).not.toBeNull();
    expect(nameFault(two, 2, 'screen 2')).toBeNull();
  });
  it('sameRegions sees geometry, role, name and labels', () => {
    expect(sameRegions([led, screen], [{ ...led }, { ...screen, labels: {} }])).toBe(true);
    expect(sameRegions([led, screen], [led, { ...screen, x: 301 }])).toBe(false);
    expect(sameRegions([led], [{ ...led, labels: { a: 'b' } }])).toBe(false);
  });
});
