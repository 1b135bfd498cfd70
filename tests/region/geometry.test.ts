import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type Orientation, uprightSize } from '../../src/clip/frameSource.js';
import { UsageError } from '../../src/errors.js';
import { checkRegion, codedToUpright, readoutPosition, uprightToCoded } from '../../src/region/geometry.js';

const rotations = [0, 90, 180, 270] as const;
const orientations: Orientation[] = rotations.flatMap((rotationDeg) =>
  [false, true].map((mirrored) => ({ rotationDeg, mirrored })),
);

/** A picture turned upright by hand: mirrored left-right first, then a quarter turn clockwise at a time. */
function turnUpright(
  coded: readonly (readonly number[])[],
  { rotationDeg, mirrored }: Orientation,
): number[][] {
  let picture = coded.map((row) => (mirrored ? [...row].reverse() : [...row]));
  for (let turn = 0; turn < rotationDeg; turn += 90) {
    const before = picture;
    // A quarter turn clockwise: the left column, read upwards, becomes the top row.
    picture = before[0]!.map((_, x) => before.map((row) => row[x]!).reverse());
  }
  return picture;
}

const anyPicture = fc.record({
  codedWidth: fc.integer({ min: 2, max: 17 }),
  codedHeight: fc.integer({ min: 2, max: 17 }),
  orientation: fc.constantFrom(...orientations),
});
type Picture = { codedWidth: number; codedHeight: number; orientation: Orientation };
const rectIn = (size: { width: number; height: number }) =>
  fc.tuple(fc.nat(size.width - 1), fc.nat(size.height - 1), fc.nat(30), fc.nat(30)).map(([x, y, w, h]) => ({
    x,
    y,
    width: 1 + (w % (size.width - x)),
    height: 1 + (h % (size.height - y)),
  }));
const pictureAndRect = anyPicture.chain((picture: Picture) =>
  rectIn(uprightSize(picture)).map((rect) => ({ picture, rect })),
);

describe('upright and coded pixels', () => {
  it('go there and back unchanged, for every turn and mirror', () => {
    fc.assert(
      fc.property(pictureAndRect, ({ picture, rect }) => {
        const coded = uprightToCoded(rect, picture);
        expect(codedToUpright(coded, picture)).toEqual(rect);
        expect(coded.width * coded.height).toBe(rect.width * rect.height);
        expect(coded.x).toBeGreaterThanOrEqual(0);
        expect(coded.y).toBeGreaterThanOrEqual(0);
        expect(coded.x + coded.width).toBeLessThanOrEqual(picture.codedWidth);
        expect(coded.y + coded.height).toBeLessThanOrEqual(picture.codedHeight);
      }),
      { numRuns: 300, seed: 4101 },
    );
  });

  it('show the same pixels', () => {
    fc.assert(
      fc.property(pictureAndRect, ({ picture, rect }) => {
        const coded = Array.from({ length: picture.codedHeight }, (_, y) =>
          Array.from({ length: picture.codedWidth }, (_, x) => 100 * y + x),
        );
        const cut = (pixels: readonly (readonly number[])[], r: typeof rect) =>
          pixels.slice(r.y, r.y + r.height).flatMap((row) => row.slice(r.x, r.x + r.width));
        const upright = turnUpright(coded, picture.orientation);
        const seen = cut(upright, rect).sort((a, b) => a - b);
        expect(cut(coded, uprightToCoded(rect, picture)).sort((a, b) => a - b)).toEqual(seen);
      }),
      { numRuns: 200, seed: 4102 },
    );
  });

  it('swap width and height of the picture in quarter turns only', () => {
    for (const orientation of orientations) {
      const size = uprightSize({ codedWidth: 16, codedHeight: 9, orientation });
      const turned = orientation.rotationDeg % 180 !== 0;
      expect(size).toEqual(turned ? { width: 9, height: 16 } : { width: 16, height: 9 });
    }
  });
});

describe('place in the readout', () => {
  it('runs down the coded rows, wherever upright is', () => {
    const rect = { x: 0, y: 0, width: 4, height: 2 };
    const at = (rotationDeg: (typeof rotations)[number]) =>
      readoutPosition(rect, {
        codedWidth: 40,
        codedHeight: 20,
        orientation: { rotationDeg, mirrored: false },
      });
    expect(at(0)).toBeCloseTo(1 / 20, 12);
    expect(at(180)).toBeCloseTo(19 / 20, 12);
    // Turned clockwise by 90 degrees to stand upright: the upright left edge is the coded bottom.
    expect(at(90)).toBeCloseTo(18 / 20, 12);
    expect(at(270)).toBeCloseTo(2 / 20, 12);
  });

  it('does not care about a mirror', () => {
    fc.assert(
      fc.property(pictureAndRect, ({ picture, rect }) => {
        const coded = uprightToCoded(rect, picture);
        const position = readoutPosition(rect, picture);
        expect(position).toBeCloseTo((coded.y + coded.height / 2) / picture.codedHeight, 12);
        expect(position).toBeGreaterThan(0);
        expect(position).toBeLessThan(1);
      }),
      { numRuns: 100, seed: 4103 },
    );
  });
});

describe('checking a region', () => {
  const landscape = {
    codedWidth: 160,
    codedHeight: 90,
    orientation: { rotationDeg: 0, mirrored: false },
  } as const;
  const portrait = { ...landscape, orientation: { rotationDeg: 90, mirrored: false } } as const;
  const region = { name: 'top', role: 'screen', x: 100, y: 10, width: 40, height: 30 } as const;

  it('accepts what lies inside, to the last pixel', () => {
    expect(() => checkRegion(region, landscape)).not.toThrow();
    expect(() => checkRegion({ ...region, x: 0, y: 0, width: 160, height: 90 }, landscape)).not.toThrow();
    expect(() => checkRegion({ ...region, x: 0, y: 0, width: 90, height: 160 }, portrait)).not.toThrow();
  });

  it.each([
    ['right', { x: 121 }],
    ['bottom', { y: 61 }],
    ['left', { x: -1 }],
    ['top', { y: -1 }],
  ])('refuses what sticks out at the %s, with the region and the picture in one sentence', (_, change) => {
    const check = () => checkRegion({ ...region, ...change }, landscape);
    expect(check).toThrow(UsageError);
    expect(check).toThrow(/"top".*outside.*160 x 90/);
  });

  it('measures against the upright picture', () => {
    expect(() => checkRegion(region, portrait)).toThrow(/outside the upright picture of 90 x 160/);
  });

  it.each([
    ['half pixels', { x: 10.5 }],
    ['no width', { width: 0 }],
    ['a single line', { height: 1 }],
    ['no number', { y: Number.NaN }],
  ])('refuses %s', (_, change) => {
    const check = () => checkRegion({ ...region, ...change }, landscape);
    expect(check).toThrow(UsageError);
    expect(check).toThrow(/"top" must have whole pixels and be at least 2 x 2/);
  });
});
