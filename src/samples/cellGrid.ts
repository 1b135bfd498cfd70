/** A region's grid of cells on the coded picture, and the sums of light over them: the loop that sees every pixel. */
import type { ClipFacts, LumaPlane, PixelRect, RowStep } from '../clip/frameSource.js';
import { uprightToCoded } from '../region/geometry.js';

// A grid of 32 x 32 shows a sprite and keeps an LED pixel by pixel; the budget keeps a long clip's memory bounded.
const MAX_CELLS = 1024;
/** Pixels of a frame beyond which rows are left out: ever more of them cost time and hardly lessen the noise. */
const ENOUGH_PX = 65_536;
/** Rows of a cell that are kept at least. */
const LEAST_CELL_ROWS = 4;
const REGION_BUDGET_BYTES = 48 * 1024 * 1024;

/** Cells row by row in upright orientation; each is a rectangle of the region's coded plane. */
export interface CellGrid {
  readonly columns: number;
  readonly rows: number;
  /** Side of a (square) cell, px. */
  readonly cellPx: number;
  /** Of the coded rows, every so manieth is read; the plane holds those. */
  readonly rowStep: RowStep;
  /** Pixels from one row of the coded plane to the next. */
  readonly stridePx: number;
  /** Place of the cell's first pixel in the coded plane; one a cell. */
  readonly first: Uint32Array;
  readonly widthPx: Uint32Array;
  readonly heightPx: Uint32Array;
  /** 1 / number of pixels of each cell that are read. */
  readonly perPixel: Float64Array;
  /** Middle of each cell in the sensor's readout, 0 (first coded row) .. 1. */
  readonly readoutPosition: Float32Array;
}

/** The grid of a region; coarser the more frames it is kept for. */
export function makeGrid(region: PixelRect, facts: ClipFacts, expectedFrames: number): CellGrid {
  const budgetCells = Math.floor(REGION_BUDGET_BYTES / (2 * Math.max(1, expectedFrames)));
  const maxCells = Math.max(16, Math.min(MAX_CELLS, budgetCells));
  let cellPx = Math.max(1, Math.floor(Math.sqrt((region.width * region.height) / maxCells)));
  while (Math.ceil(region.width / cellPx) * Math.ceil(region.height / cellPx) > maxCells) cellPx++;
  const columns = Math.ceil(region.width / cellPx);
  const rows = Math.ceil(region.height / cellPx);
  for (let rowStep = rowStepFor(region, cellPx); ; rowStep = (rowStep / 2) as RowStep) {
    const grid = layCells(region, facts, { columns, rows, cellPx, rowStep });
    // A narrow last cell may lie between two rows.
    if (rowStep === 1 || grid.perPixel.every(Number.isFinite)) return grid;
  }
}

function rowStepFor({ width, height }: PixelRect, cellPx: number): RowStep {
  const steps = [8, 4, 2] as const;
  const enough = (step: number) => (width * height) / (step / 2) > ENOUGH_PX;
  return steps.find((step) => enough(step) && cellPx >= LEAST_CELL_ROWS * step) ?? 1;
}

function layCells(
  region: PixelRect,
  facts: ClipFacts,
  { columns, rows, cellPx, rowStep }: Pick<CellGrid, 'columns' | 'rows' | 'cellPx' | 'rowStep'>,
): CellGrid {
  const cells = columns * rows;
  const coded = uprightToCoded(region, facts);
  const pixelsPerCell = new Float64Array(cells);
  const rowSum = new Float64Array(cells);
  const first = new Uint32Array(cells);
  const last = new Uint32Array(cells);
  const { rotationDeg, mirrored } = facts.orientation;
  for (let py = 0; py < coded.height; py += rowStep) {
    for (let px = 0; px < coded.width; px++) {
      const mx = mirrored ? coded.width - 1 - px : px;
      let ux = mx;
      let uy = py;
      if (rotationDeg === 90) [ux, uy] = [coded.height - 1 - py, mx];
      else if (rotationDeg === 180) [ux, uy] = [coded.width - 1 - mx, coded.height - 1 - py];
      else if (rotationDeg === 270) [ux, uy] = [py, coded.width - 1 - mx];
      const cell = Math.floor(uy / cellPx) * columns + Math.floor(ux / cellPx);
      const at = (py / rowStep) * coded.width + px;
      if (pixelsPerCell[cell] === 0) first[cell] = at;
      last[cell] = at;
      pixelsPerCell[cell]!++;
      rowSum[cell]! += (coded.y + py + 0.5) / facts.codedHeight;
    }
  }
  const widthPx = first.map((from, c) => (last[c]! % coded.width) - (from % coded.width) + 1);
  const heightPx = first.map((_, c) => pixelsPerCell[c]! / widthPx[c]!);
  return {
    columns,
    rows,
    cellPx,
    rowStep,
    stridePx: coded.width,
    first,
    widthPx,
    heightPx,
    perPixel: pixelsPerCell.map((n) => 1 / n),
    readoutPosition: Float32Array.from(rowSum, (sum, c) => sum / pixelsPerCell[c]!),
  };
}

/** Where sums of one frame go. */
export interface CellSums {
  /** Mean light of each cell, rounded. */
  readonly light: Uint16Array;
  /** Highest code of each cell that reaches the limit; nothing is written for any other. */
  readonly reached: Uint16Array;
}

/**
 * Mean light of every cell in one frame. Four rows are summed side by side, since a sum waits for the one before it;
 * each row keeps its order of pixels, and the rows are added in order, so that the result does not depend on that.
 * cellSums.wat does the same for pictures of 8 bits.
 * @param table light of each code.
 * @param limitCode cells with a code of this or more are told in `reached`.
 * @returns the highest of `reached`.
 */
export function sumCells(
  plane: LumaPlane,
  grid: CellGrid,
  table: Float64Array,
  limitCode: number,
  { light, reached }: CellSums,
): number {
  const { first, widthPx, heightPx, perPixel, stridePx } = grid;
  const below = limitCode - 1;
  let highest = 0;
  for (let c = 0; c < first.length; c++) {
    const width = widthPx[c]!;
    const height = heightPx[c]!;
    let from = first[c]!;
    let sum = 0;
    // The sign bit is set where any code is above `below`.
    let over = 0;
    let row = 0;
    for (; row + 4 <= height; row += 4) {
      let sum0 = 0;
      let sum1 = 0;
      let sum2 = 0;
      let sum3 = 0;
      const to = from + width;
      for (let p = from; p < to; p++) {
        const code0 = plane[p]!;
        const code1 = plane[p + stridePx]!;
        const code2 = plane[p + 2 * stridePx]!;
        const code3 = plane[p + 3 * stridePx]!;
        sum0 += table[code0]!;
        sum1 += table[code1]!;
        sum2 += table[code2]!;
        sum3 += table[code3]!;
        over |= (below - code0) | (below - code1) | (below - code2) | (below - code3);
      }
      sum = sum + sum0 + sum1 + sum2 + sum3;
      from += 4 * stridePx;
    }
    for (; row < height; row++) {
      let sum0 = 0;
      const to = from + width;
      for (let p = from; p < to; p++) {
        const code = plane[p]!;
        sum0 += table[code]!;
        over |= below - code;
      }
      sum += sum0;
      from += stridePx;
    }
    light[c] = sum * perPixel[c]! + 0.5;
    if (over >= 0) continue;
    reached[c] = highestCode(plane, grid, c);
    if (reached[c]! > highest) highest = reached[c]!;
  }
  return highest;
}

function highestCode(plane: LumaPlane, grid: CellGrid, c: number): number {
  const width = grid.widthPx[c]!;
  const end = grid.first[c]! + grid.heightPx[c]! * grid.stridePx;
  let highest = 0;
  for (let from = grid.first[c]!; from < end; from += grid.stridePx) {
    for (let p = from; p < from + width; p++) if (plane[p]! > highest) highest = plane[p]!;
  }
  return highest;
}
