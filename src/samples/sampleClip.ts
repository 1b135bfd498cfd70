/** Walks a frame source once and keeps each region as a small grid of linear light. */
import type { ClipFacts, FrameSource, FrameTimes, ReadOptions } from '../clip/frameSource.js';
import { uprightToCoded } from '../region/geometry.js';
import type { Region } from '../region/region.js';
import { codeLimits, decodeLight, normaliseLuma } from '../units.js';
import { type CellGrid, makeGrid, sumCells } from './cellGrid.js';
import { type ClipSamples, LIGHT_SCALE, type RegionSamples } from './samples.js';

// An odd stride, so that no column of a region is compared alone.
const COMPARED_EVERY = 11;
// Lossy coding scatters a clipped plateau by a few codes.
const CLIP_SLACK_CODES = 3;

interface Collector {
  readonly region: Region;
  readonly grid: CellGrid;
  readonly cells: number;
  /** Highest code of each cell that is clipped in the frame at hand, else 0. */
  readonly reached: Uint16Array;
  readonly clippedAtWhite: Uint32Array;
  readonly clippedAtTop: Uint32Array;
  /** Every so many pixels of the frame before; empty before the first. */
  readonly before: Uint16Array;
  light: Uint16Array;
}

/**
 * One pass over the clip.
 * @param source the clip; its coded pixels are read exactly as stored.
 * @param regions upright rectangles, checked by `checkRegion` beforehand.
 * @returns the grids and the timestamps of the frames that were delivered.
 */
export async function sampleClip(
  source: FrameSource,
  regions: readonly Region[],
  options: ReadOptions = {},
): Promise<{ samples: ClipSamples; times: FrameTimes }> {
  const { facts } = source;
  const expectedFrames = facts.declaredFrames ?? 4096;
  const collectors = regions.map((region) => makeCollector(region, facts, expectedFrames));
  const table = lightTable(facts);
  const { white } = codeLimits(facts.bitDepth, facts.range);
  const top = 2 ** facts.bitDepth - 1;
  const step = 2 ** (facts.bitDepth - 8);
  const whiteClip = white - CLIP_SLACK_CODES * step;
  const topClip = top - CLIP_SLACK_CODES * step;
  let maxCode = 0;
  let frameChange = new Float32Array(expectedFrames);

  const rects = regions.map((region) => uprightToCoded(region, facts));
  const times = await source.readRects(
    rects,
    (index, planes) => {
      if (index >= frameChange.length) frameChange = grow(frameChange, index);
      let change = 0;
      let compared = 0;
      for (let r = 0; r < collectors.length; r++) {
        const collector = collectors[r]!;
        const plane = planes[r]!;
        const { grid, cells, reached, clippedAtTop, clippedAtWhite, before } = collector;
        if ((index + 1) * cells > collector.light.length) {
          collector.light = grow(collector.light, (index + 1) * cells);
        }
        const sums = { light: collector.light, at: index * cells, reached };
        const highest = sumCells(plane, grid, table, whiteClip, sums);
        if (highest > 0) {
          for (let c = 0; c < cells; c++) {
            if (reached[c]! > 0) clippedAtWhite[c]!++;
            if (reached[c]! >= topClip) clippedAtTop[c]!++;
          }
          reached.fill(0);
          maxCode = Math.max(maxCode, highest);
        }
        // A part of the pixels is plenty to tell a doubled frame from a new one.
        for (let i = 0; i < before.length; i++) {
          const code = plane[i * COMPARED_EVERY]!;
          if (index > 0) change += Math.abs(code - before[i]!);
          before[i] = code;
        }
        if (index > 0) compared += before.length;
      }
      frameChange[index] = compared > 0 ? change / compared : 0;
    },
    options,
  );

  const frames = times.ptsTicks.length;
  // Where codes above reference white occur (super-white), white itself is not the clipping point.
  const useTop = facts.range === 'full' || maxCode > white + 6 * step;
  return {
    samples: {
      frames,
      frameChange: frameChange.slice(0, frames),
      regions: collectors.map((c) => finish(c, frames, useTop)),
    },
    times,
  };
}

function makeCollector(region: Region, facts: ClipFacts, expectedFrames: number): Collector {
  const grid = makeGrid(region, facts, expectedFrames);
  const cells = grid.columns * grid.rows;
  return {
    region,
    grid,
    cells,
    reached: new Uint16Array(cells),
    clippedAtWhite: new Uint32Array(cells),
    clippedAtTop: new Uint32Array(cells),
    before: new Uint16Array(Math.ceil((region.width * region.height) / COMPARED_EVERY)),
    light: new Uint16Array(expectedFrames * cells),
  };
}

function finish(collector: Collector, frames: number, useTop: boolean): RegionSamples {
  const { region, grid, cells, light, clippedAtTop, clippedAtWhite } = collector;
  return {
    region,
    columns: grid.columns,
    rows: grid.rows,
    cellPx: grid.cellPx,
    light: light.length === frames * cells ? light : light.slice(0, frames * cells),
    clippedShare: Float32Array.from(useTop ? clippedAtTop : clippedAtWhite, (n) =>
      frames > 0 ? n / frames : 0,
    ),
    readoutPosition: grid.readoutPosition,
  };
}

/** Code value to linear light times `LIGHT_SCALE`, one entry a code. */
function lightTable(facts: ClipFacts): Float64Array {
  return Float64Array.from({ length: 2 ** facts.bitDepth }, (_, code) => {
    const light = decodeLight(normaliseLuma(code, facts.bitDepth, facts.range), facts.transfer);
    return Math.min(65_535, light * LIGHT_SCALE);
  });
}

function grow<A extends Float32Array | Uint16Array>(array: A, needed: number): A {
  const length = Math.max(needed + 1, Math.ceil(array.length * 1.5));
  const bigger = (array instanceof Float32Array
    ? new Float32Array(length)
    : new Uint16Array(length)) as unknown as A;
  bigger.set(array as never);
  return bigger;
}
