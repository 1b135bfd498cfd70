import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type {
  ClipFacts,
  FrameSource,
  LumaPlane,
  Orientation,
  PixelRect,
} from '../../src/clip/frameSource.js';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import type { Region } from '../../src/region/region.js';
import { sampleClip } from '../../src/samples/sampleClip.js';
import { LIGHT_SCALE } from '../../src/samples/samples.js';
import { decodeLight, normaliseLuma } from '../../src/units.js';

/** Stored light is a whole number of 1/50000. */
const STORED_STEP = 0.5 / LIGHT_SCALE;

const facts: ClipFacts = {
  file: 'planes.simulated',
  bytes: 0,
  sha256: '',
  container: 'simulated',
  codec: 'simulated',
  codedWidth: 12,
  codedHeight: 9,
  orientation: { rotationDeg: 0, mirrored: false },
  pixelFormat: 'gray',
  bitDepth: 8,
  range: 'limited',
  rangeTagged: true,
  transfer: 'bt709',
  transferTagged: true,
  timeBase: [1, 240],
  declaredFrames: null,
  nominalRateHz: 240,
  captureRateTagHz: null,
  editList: 'none',
  decoder: 'simulated',
  warnings: [],
};

/** Whole pictures of code values, one a frame, as a clip. */
function planesSource(pictures: readonly (readonly number[])[], given: Partial<ClipFacts> = {}): FrameSource {
  const own = { ...facts, ...given };
  const never = () => Promise.reject(new Error('only rectangles are read'));
  return {
    facts: own,
    readOverview: never,
    readStill: never,
    async readRects(rects, onFrame) {
      const planes: LumaPlane[] = rects.map((r) =>
        own.bitDepth > 8 ? new Uint16Array(r.width * r.height) : new Uint8Array(r.width * r.height),
      );
      let index = 0;
      for (const picture of pictures) {
        rects.forEach((r, i) => {
          for (let k = 0; k < planes[i]!.length; k++) {
            const y = r.y + Math.floor(k / r.width);
            planes[i]![k] = picture[y * own.codedWidth + r.x + (k % r.width)]!;
          }
        });
        if (onFrame(index++, planes) === false) break;
      }
      return {
        ptsTicks: Float64Array.from({ length: index }, (_, k) => k),
        timeBase: own.timeBase,
        stoppedEarly: index < pictures.length,
        damagedFrames: 0,
      };
    },
  };
}

function noise(seed: number, count: number, low: number, high: number): number[] {
  const random = seededRandom(seed);
  return Array.from({ length: count }, () => low + random.integer(high - low + 1));
}

const region = (rect: PixelRect): Region => ({ name: 'top', role: 'screen', ...rect });

describe('a large region', () => {
  it('is read by every other row or fewer, and its cells are the means of those', async () => {
    const [width, height] = [480, 330];
    const picture = noise(5, width * height, 30, 200);
    const own = { codedWidth: width, codedHeight: height };
    const rect = { x: 0, y: 1, width, height: height - 1 };
    const { samples } = await sampleClip(planesSource([picture, picture], own), [region(rect)]);
    const { columns, rows, cellPx, light } = samples.regions[0]!;
    const table = Float64Array.from({ length: 256 }, (_, code) =>
      decodeLight(normaliseLuma(code, 8, 'limited'), 'bt709'),
    );
    // 158,000 px are halved twice at most, as each cell keeps four rows.
    const step = 2;
    expect(cellPx).toBeGreaterThanOrEqual(4 * step);
    for (const [column, row] of [
      [0, 0],
      [3, 5],
      [columns - 1, rows - 1],
    ] as const) {
      let sum = 0;
      let n = 0;
      for (let y = row * cellPx; y < Math.min(rect.height, (row + 1) * cellPx); y++) {
        if (y % step !== 0) continue;
        for (let x = column * cellPx; x < Math.min(width, (column + 1) * cellPx); x++) {
          sum += table[picture[(rect.y + y) * width + x]!]!;
          n++;
        }
      }
      expect(light[row * columns + column]! / LIGHT_SCALE).toBeCloseTo(sum / n, 4);
    }
  });
});
const lightOf = (code: number, f: ClipFacts) =>
  decodeLight(normaliseLuma(code, f.bitDepth, f.range), f.transfer);

/** A picture turned upright by hand: mirrored left-right first, then a quarter turn clockwise at a time. */
function turnUpright<T>(coded: readonly (readonly T[])[], { rotationDeg, mirrored }: Orientation): T[][] {
  let picture = coded.map((row) => (mirrored ? [...row].reverse() : [...row]));
  for (let turn = 0; turn < rotationDeg; turn += 90) {
    const before = picture;
    picture = before[0]!.map((_, x) => before.map((row) => row[x]!).reverse());
  }
  return picture;
}

/** Mean linear light of every cell, computed the long way round. */
function cellsByHand(
  picture: readonly number[],
  rect: PixelRect,
  cellPx: number,
  f: ClipFacts,
): { light: number[]; position: number[] } {
  const rows = Array.from({ length: f.codedHeight }, (_, y) =>
    Array.from({ length: f.codedWidth }, (_, x) => ({
      light: lightOf(picture[y * f.codedWidth + x]!, f),
      position: (y + 0.5) / f.codedHeight,
    })),
  );
  const upright = turnUpright(rows, f.orientation);
  const out = { light: [] as number[], position: [] as number[] };
  for (let top = rect.y; top < rect.y + rect.height; top += cellPx) {
    for (let left = rect.x; left < rect.x + rect.width; left += cellPx) {
      const cell = [];
      for (let y = top; y < Math.min(top + cellPx, rect.y + rect.height); y++) {
        for (let x = left; x < Math.min(left + cellPx, rect.x + rect.width); x++) cell.push(upright[y]![x]!);
      }
      out.light.push(cell.reduce((sum, p) => sum + p.light, 0) / cell.length);
      out.position.push(cell.reduce((sum, p) => sum + p.position, 0) / cell.length);
    }
  }
  return out;
}

describe('sampling a clip', () => {
  const orientations: Orientation[] = ([0, 90, 180, 270] as const).flatMap((rotationDeg) =>
    [false, true].map((mirrored) => ({ rotationDeg, mirrored })),
  );

  it.each(orientations)(
    'small regions keep every pixel: $rotationDeg degrees, mirrored $mirrored',
    async (orientation) => {
      const given = { ...facts, orientation };
      const pictures = [1, 2, 3].map((seed) => noise(seed, 108, 16, 235));
      const rect = { x: 2, y: 1, width: 5, height: 7 };
      const { samples } = await sampleClip(planesSource(pictures, given), [region(rect)]);
      const grid = samples.regions[0]!;
      expect(grid).toMatchObject({ columns: 5, rows: 7, cellPx: 1 });
      expect(samples.frames).toBe(3);
      pictures.forEach((picture, k) => {
        const byHand = cellsByHand(picture, rect, 1, given);
        byHand.light.forEach((light, c) => {
          expect(Math.abs(grid.light[k * 35 + c]! / LIGHT_SCALE - light)).toBeLessThanOrEqual(
            STORED_STEP * 1.001,
          );
          expect(grid.readoutPosition[c]).toBeCloseTo(byHand.position[c]!, 6);
        });
      });
    },
  );

  const anyClip = fc.record({
    codedWidth: fc.integer({ min: 34, max: 61 }),
    codedHeight: fc.integer({ min: 33, max: 59 }),
    orientation: fc.constantFrom(...orientations),
    tenBit: fc.boolean(),
    range: fc.constantFrom('limited', 'full' as const),
    transfer: fc.constantFrom('bt709', 'srgb', 'linear', 'hlg' as const),
    seed: fc.integer({ min: 0, max: 1e6 }),
  });

  it('large regions keep means of linear light, whatever the size, turn, depth, range and curve', async () => {
    await fc.assert(
      fc.asyncProperty(
        anyClip,
        async ({ codedWidth, codedHeight, orientation, tenBit, range, transfer, seed }) => {
          const bitDepth = tenBit ? 10 : 8;
          const given = {
            ...facts,
            codedWidth,
            codedHeight,
            orientation,
            bitDepth,
            range,
            transfer,
          } as ClipFacts;
          const top = 2 ** bitDepth - 1;
          const picture = noise(seed, codedWidth * codedHeight, 0, top);
          const turned = orientation.rotationDeg % 180 !== 0;
          const rect = {
            x: 1,
            y: 0,
            width: (turned ? codedHeight : codedWidth) - 1,
            height: turned ? codedWidth : codedHeight,
          };
          const { samples } = await sampleClip(planesSource([picture], given), [region(rect)]);
          const grid = samples.regions[0]!;
          expect(grid.columns).toBe(Math.ceil(rect.width / grid.cellPx));
          expect(grid.rows).toBe(Math.ceil(rect.height / grid.cellPx));
          expect(grid.columns * grid.rows).toBeLessThanOrEqual(1024);
          const byHand = cellsByHand(picture, rect, grid.cellPx, given);
          const off = byHand.light.map((light, c) => Math.abs(grid.light[c]! / LIGHT_SCALE - light));
          expect(Math.max(...off)).toBeLessThanOrEqual(STORED_STEP * 1.001);
        },
      ),
      { numRuns: 25, seed: 5101 },
    );
  });

  it('averages light, not code values', async () => {
    // Half of the cells' pixels at black and half at white are half the light; as code they would read 0.26.
    const size = 66;
    const picture = Array.from({ length: size * size }, (_, i) => ((i % size) % 2 === 0 ? 16 : 235));
    const source = planesSource([picture], { codedWidth: size, codedHeight: size });
    const { samples } = await sampleClip(source, [region({ x: 0, y: 0, width: size, height: size })]);
    const grid = samples.regions[0]!;
    expect(grid.cellPx % 2 === 0 || grid.cellPx > 1).toBe(true);
    const mean = grid.light.reduce((sum, v) => sum + v, 0) / grid.light.length / LIGHT_SCALE;
    expect(mean).toBeCloseTo(0.5, 1);
    expect(Math.abs(mean - 0.5)).toBeLessThan(0.02);
  });

  it('counts clipped frames cell by cell', async () => {
    const quiet = Array<number>(108).fill(100);
    const bright = quiet.map((v, i) => (i === 13 ? 235 : v));
    const rect = { x: 0, y: 0, width: 4, height: 4 };
    const { samples } = await sampleClip(planesSource([quiet, bright, quiet, bright]), [region(rect)]);
    const shares = [...samples.regions[0]!.clippedShare];
    // Coded pixel 13 is column 1 of row 1.
    expect(shares.map((s, c) => (c === 5 ? s === 0.5 : s === 0)).every(Boolean)).toBe(true);
  });

  it('takes white for clipped only where nothing is whiter', async () => {
    const white = Array<number>(108).fill(235);
    const whiter = white.map((v, i) => (i === 0 ? 254 : v));
    const rect = { x: 0, y: 0, width: 4, height: 4 };
    const share = async (pictures: number[][], given: Partial<ClipFacts> = {}) => [
      ...(await sampleClip(planesSource(pictures, given), [region(rect)])).samples.regions[0]!.clippedShare,
    ];
    expect(await share([white, white])).toEqual(Array(16).fill(1));
    expect((await share([white, whiter])).map((s) => s > 0)).toEqual(
      Array.from({ length: 16 }, (_, c) => c === 0),
    );
    expect(await share([white, white], { range: 'full' })).toEqual(Array(16).fill(0));
    const ten = white.map(() => 940);
    expect(await share([ten], { bitDepth: 10 })).toEqual(Array(16).fill(1));
  });

  it('keeps memory bounded: the grid gets coarser as the declared clip gets longer', async () => {
    const size = 64;
    const picture = noise(9, size * size, 16, 235);
    const rect = { x: 0, y: 0, width: size, height: size };
    const grid = async (declaredFrames: number | null) => {
      const source = planesSource([picture], { codedWidth: size, codedHeight: size, declaredFrames });
      const { regions } = (await sampleClip(source, [region(rect)])).samples;
      return regions[0]!;
    };
    const cells = async (n: number | null) => {
      const { columns, rows } = await grid(n);
      return columns * rows;
    };
    expect(await cells(1000)).toBe(1024);
    expect(await cells(null)).toBe(1024);
    const long = await cells(200_000);
    // 48 MB of 2-byte cells.
    expect(long * 200_000 * 2).toBeLessThanOrEqual(48 * 1024 * 1024);
    expect(long).toBeGreaterThan(16);
    // The means stay those of the picture.
    const coarse = await grid(200_000);
    const byHand = cellsByHand(picture, rect, coarse.cellPx, {
      ...facts,
      codedWidth: size,
      codedHeight: size,
    });
    byHand.light.forEach((light, c) => {
      expect(Math.abs(coarse.light[c]! / LIGHT_SCALE - light)).toBeLessThanOrEqual(STORED_STEP * 1.001);
    });
  });

  it('takes more or fewer frames than the container declared', async () => {
    const pictures = Array.from({ length: 9 }, (_, k) => noise(k, 108, 16, 235));
    const rect = { x: 3, y: 2, width: 4, height: 3 };
    const run = async (declaredFrames: number) =>
      (await sampleClip(planesSource(pictures, { declaredFrames }), [region(rect)])).samples;
    const exact = await run(9);
    for (const declared of [1, 4, 50]) {
      const other = await run(declared);
      expect(other.frames).toBe(9);
      expect([...other.regions[0]!.light]).toEqual([...exact.regions[0]!.light]);
      expect([...other.frameChange]).toEqual([...exact.frameChange]);
    }
  });

  it('sees a doubled frame as no change', async () => {
    const a = noise(1, 108, 90, 110);
    const b = noise(2, 108, 90, 110);
    const { samples } = await sampleClip(planesSource([a, b, b, a]), [
      region({ x: 0, y: 0, width: 12, height: 9 }),
    ]);
    expect(samples.frameChange).toHaveLength(4);
    expect(samples.frameChange[0]).toBe(0);
    expect(samples.frameChange[1]).toBeGreaterThan(3);
    expect(samples.frameChange[2]).toBe(0);
    expect(samples.frameChange[3]).toBeGreaterThan(3);
  });

  it('samples several regions in one pass as if alone', async () => {
    const pictures = [noise(4, 108, 16, 235), noise(5, 108, 16, 235)];
    const a = region({ x: 0, y: 0, width: 3, height: 3 });
    const b = { ...region({ x: 5, y: 4, width: 7, height: 5 }), name: 'bottom' };
    const both = (await sampleClip(planesSource(pictures), [a, b])).samples.regions;
    const alone = (await sampleClip(planesSource(pictures), [b])).samples.regions;
    expect([...both[1]!.light]).toEqual([...alone[0]!.light]);
    expect(both.map((r) => r.region.name)).toEqual(['top', 'bottom']);
  });
});
