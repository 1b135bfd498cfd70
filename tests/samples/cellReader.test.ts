import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { makeGrid } from '../../src/samples/cellGrid.js';
import { makeCellReader } from '../../src/samples/cellReader.js';
import { CELL_SUMS_BASE64 } from '../../src/samples/cellSumsBytes.js';
import { assembleCellSums } from './assembleCellSums.js';

const facts = { orientation: { rotationDeg: 0, mirrored: false }, codedWidth: 1920, codedHeight: 1080 };
const LIMIT = 232;
const table = Float64Array.from({ length: 256 }, (_, code) => 65_535 * (code / 255) ** 2.2);

/** Rectangles with whole and narrow last cells, single pixels, few and many rows a cell, and rows left out. */
const REGIONS = [
  { width: 1, height: 1 },
  { width: 40, height: 40 },
  { width: 37, height: 3 },
  { width: 320, height: 64 },
  { width: 333, height: 71 },
  { width: 1001, height: 603 },
];

describe('the loops over every pixel', () => {
  it('are what the text of cellSums.wat says, assembled by the WebAssembly project’s own assembler', async () => {
    expect(CELL_SUMS_BASE64).toBe(await assembleCellSums());
  });

  for (const { width, height } of REGIONS) {
    for (const brightest of [LIMIT - 1, 255]) {
      it(`give the same bits for 8-bit pictures as for deeper ones: ${width} x ${height}, codes to ${brightest}`, () => {
        const region = { x: 100, y: 220, width, height };
        const grid = makeGrid(region, facts as never, 14_400);
        const planePx = grid.stridePx * Math.ceil(height / grid.rowStep);
        const reading = { grid, planePx, table, limitCode: LIMIT };
        const [bytes, deep] = [makeCellReader(reading, 8), makeCellReader(reading, 10)];
        const random = seededRandom(width * 1000 + brightest);
        let clipped = 0;
        for (let frame = 0; frame < 4; frame++) {
          // The third picture has no pixel at the limit: what the second left must be gone.
          const top = frame === 2 ? LIMIT - 1 : brightest;
          const plane = Uint8Array.from({ length: planePx }, () => Math.floor(random.uniform() * (top + 1)));
          if (frame === 1) plane[planePx - 1] = brightest;
          bytes.read(plane);
          deep.read(Uint16Array.from(plane));
          expect(bytes.light).toEqual(deep.light);
          expect(bytes.change).toBe(deep.change);
          expect(bytes.highest).toBe(deep.highest);
          if (deep.highest > 0) expect(bytes.reached).toEqual(deep.reached);
          clipped += deep.highest > 0 ? 1 : 0;
          if (frame === 0) expect(bytes.change).toBe(0);
          const first = grid.first[grid.first.length - 1]!;
          expect(Math.abs(bytes.light.at(-1)! - meanLight(plane, first))).toBeLessThanOrEqual(0.5);

          function meanLight(codes: Uint8Array, from: number): number {
            let sum = 0;
            const [w, h] = [grid.widthPx.at(-1)!, grid.heightPx.at(-1)!];
            for (let y = 0; y < h; y++)
              for (let x = 0; x < w; x++) sum += table[codes[from + y * grid.stridePx + x]!]!;
            return sum / (w * h);
          }
        }
        expect(clipped > 0).toBe(brightest >= LIMIT);
      });
    }
  }
});
