/** What is taken from every picture of a region: the light of its cells, which of them clip, and how much it changed. */
import type { LumaPlane } from '../clip/frameSource.js';
import { type CellGrid, sumCells } from './cellGrid.js';
import { CELL_SUMS_BASE64 } from './cellSumsBytes.js';

// An odd stride, so that no column of a region is compared alone.
const COMPARED_EVERY = 11;
const PAGE_BYTES = 65_536;
const CELL_BYTES = 24;

/** Goes from picture to picture of one region. */
export interface CellReader {
  /** Takes in the next picture. `light`, `reached` and `change` hold what it said until the next one. */
  read(plane: LumaPlane): void;
  /** Mean light of each cell, rounded. */
  readonly light: Uint16Array;
  /** Highest code of each cell that reaches the limit, 0 of every other; worth reading where `highest` is not 0. */
  readonly reached: Uint16Array;
  /** The highest of `reached`. */
  readonly highest: number;
  /** Sum of absolute changes of the compared codes since the picture before; 0 for the first. */
  readonly change: number;
  /** Pixels of a picture that are compared: plenty to tell a doubled frame from a new one. */
  readonly comparedPx: number;
}

/** How a region is read. */
export interface CellReading {
  readonly grid: CellGrid;
  /** Pixels of one picture. */
  readonly planePx: number;
  /** Light of each code. */
  readonly table: Float64Array;
  /** Cells with a code of this or more are told in `reached`. */
  readonly limitCode: number;
}

/** Pictures of 8 bits go through the assembled loops, which take a third of the time; deeper ones through ours. */
export function makeCellReader(reading: CellReading, bitDepth: number): CellReader {
  return bitDepth > 8 ? new DeepReader(reading) : new ByteReader(reading);
}

class DeepReader implements CellReader {
  readonly light: Uint16Array;
  readonly reached: Uint16Array;
  readonly comparedPx: number;
  highest = 0;
  change = 0;
  readonly #reading: CellReading;
  readonly #before: Uint16Array;
  #isFirst = true;

  constructor(reading: CellReading) {
    const cells = reading.grid.first.length;
    this.#reading = reading;
    this.light = new Uint16Array(cells);
    this.reached = new Uint16Array(cells);
    this.comparedPx = Math.ceil(reading.planePx / COMPARED_EVERY);
    this.#before = new Uint16Array(this.comparedPx);
  }

  read(plane: LumaPlane): void {
    const { grid, table, limitCode } = this.#reading;
    if (this.highest > 0) this.reached.fill(0);
    this.highest = sumCells(plane, grid, table, limitCode, this);
    const before = this.#before;
    let change = 0;
    for (let i = 0; i < before.length; i++) {
      const code = plane[i * COMPARED_EVERY]!;
      change += Math.abs(code - before[i]!);
      before[i] = code;
    }
    this.change = this.#isFirst ? 0 : change;
    this.#isFirst = false;
  }
}

/** What cellSums.wat exports; places are bytes of its memory. */
interface CellSums {
  readonly memory: WebAssembly.Memory;
  sumCells(cells: number, cellsEnd: number, stridePx: number, plane: number, light: number): void;
  highestOfCells(cells: number, cellsEnd: number, stridePx: number, plane: number, highest: number): void;
  highest(plane: number, planeEnd: number): number;
  change(plane: number, planeEnd: number, every: number, before: number): number;
}

let assembled: WebAssembly.Module | undefined;

class ByteReader implements CellReader {
  readonly light: Uint16Array;
  readonly reached: Uint16Array;
  readonly comparedPx: number;
  highest = 0;
  change = 0;
  readonly #sums: CellSums;
  readonly #plane: Uint8Array;
  readonly #limitCode: number;
  readonly #stridePx: number;
  readonly #at: Readonly<Record<'cells' | 'cellsEnd' | 'light' | 'reached' | 'before' | 'plane', number>>;
  #isFirst = true;

  constructor({ grid, planePx, table, limitCode }: CellReading) {
    assembled ??= new WebAssembly.Module(Uint8Array.from(atob(CELL_SUMS_BASE64), (c) => c.charCodeAt(0)));
    const sums = new WebAssembly.Instance(assembled).exports as unknown as CellSums;
    const count = grid.first.length;
    this.comparedPx = Math.ceil(planePx / COMPARED_EVERY);
    let end = table.byteLength;
    // Places are whole multiples of 16; nothing ever writes between the plane and the next one, where `highest` reads.
    const place = (bytes: number) => {
      const from = end;
      end += Math.ceil(bytes / 16) * 16;
      return from;
    };
    const cells = place(count * CELL_BYTES);
    const light = place(count * 2);
    const reached = place(count * 2);
    const plane = place(planePx);
    const before = place(this.comparedPx);
    this.#at = { cells, cellsEnd: cells + count * CELL_BYTES, light, reached, before, plane };
    sums.memory.grow(Math.ceil(end / PAGE_BYTES));
    const { buffer } = sums.memory;
    new Float64Array(buffer, 0, table.length).set(table);
    const view = new DataView(buffer);
    for (let c = 0, at = cells; c < count; c++, at += CELL_BYTES) {
      view.setUint32(at, grid.first[c]!, true);
      view.setUint32(at + 4, grid.widthPx[c]!, true);
      view.setUint32(at + 8, grid.heightPx[c]!, true);
      view.setFloat64(at + 16, grid.perPixel[c]!, true);
    }
    this.light = new Uint16Array(buffer, light, count);
    this.reached = new Uint16Array(buffer, reached, count);
    this.#plane = new Uint8Array(buffer, plane, planePx);
    this.#sums = sums;
    this.#limitCode = limitCode;
    this.#stridePx = grid.stridePx;
  }

  read(picture: LumaPlane): void {
    const { cells, cellsEnd, light, reached, before, plane } = this.#at;
    const end = plane + this.#plane.length;
    this.#plane.set(picture);
    this.#sums.sumCells(cells, cellsEnd, this.#stridePx, plane, light);
    const change = this.#sums.change(plane, end, COMPARED_EVERY, before);
    this.change = this.#isFirst ? 0 : change;
    this.#isFirst = false;
    const highest = this.#sums.highest(plane, end);
    this.highest = highest >= this.#limitCode ? highest : 0;
    if (this.highest === 0) return;
    this.#sums.highestOfCells(cells, cellsEnd, this.#stridePx, plane, reached);
    for (let c = 0; c < this.reached.length; c++) {
      if (this.reached[c]! < this.#limitCode) this.reached[c] = 0;
    }
  }
}
