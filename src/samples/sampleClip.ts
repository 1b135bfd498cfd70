/**
 * Walks a frame source once and keeps each region as a small grid of linear light. Every region stands for itself, so
 * that it can be kept and met again by itself; what they share is settled when they are joined.
 */
import { copyRect, planeFor, rowsRead } from '../clip/cropPlan.js';
import type { ClipFacts, FrameSource, FrameTimes, PixelRect, ReadOptions } from '../clip/frameSource.js';
import { uprightToCoded } from '../region/geometry.js';
import type { Region } from '../region/region.js';
import { codeLimits, decodeLight, normaliseLuma } from '../units.js';
import { type CellGrid, makeGrid } from './cellGrid.js';
import { type CellReader, makeCellReader } from './cellReader.js';
import { type ClipSamples, LIGHT_SCALE, type RegionSamples } from './samples.js';

// Lossy coding scatters a clipped plateau by a few codes.
const CLIP_SLACK_CODES = 3;

/** One region as a pass left it: the same, whatever other regions were sampled beside it. */
export interface RegionLight
  extends Pick<RegionSamples, 'columns' | 'rows' | 'cellPx' | 'light' | 'readoutPosition'> {
  /** Frames in which any pixel of the cell reached white, and the largest code; one a cell. */
  readonly clippedAtWhite: Uint32Array;
  readonly clippedAtTop: Uint32Array;
  /** Largest code value that reached white; 0 where none did. */
  readonly maxCode: number;
  /** Sum of absolute changes of the compared code values from the frame before, one a frame; entry 0 is 0. */
  readonly change: Uint32Array;
  /** Pixels of a frame that are compared. */
  readonly comparedPx: number;
}

/** What one pass over the clip leaves of each region, in the order that was asked for. */
export interface RegionPass {
  readonly regions: readonly RegionLight[];
  readonly times: FrameTimes;
}

interface Collector {
  readonly grid: CellGrid;
  readonly cells: number;
  readonly reader: CellReader;
  readonly clippedAtWhite: Uint32Array;
  readonly clippedAtTop: Uint32Array;
  light: Uint16Array;
  change: Uint32Array;
  maxCode: number;
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
  const pass = await sampleRegions(source, regions, options);
  return { samples: joinRegions(pass, regions, source.facts), times: pass.times };
}

/** The samples of a clip from regions that were sampled in one pass or in several. */
export function joinRegions(
  { regions: parts, times }: RegionPass,
  regions: readonly Region[],
  { bitDepth, range }: ClipFacts,
): ClipSamples {
  const frames = times.ptsTicks.length;
  const { white } = codeLimits(bitDepth, range);
  const step = 2 ** (bitDepth - 8);
  // Where codes above reference white occur (super-white), white itself is not the clipping point.
  const useTop = range === 'full' || Math.max(...parts.map((p) => p.maxCode)) > white + 6 * step;
  const compared = parts.reduce((sum, p) => sum + p.comparedPx, 0);
  return {
    frames,
    frameChange: Float32Array.from({ length: frames }, (_, k) =>
      k > 0 ? parts.reduce((sum, p) => sum + p.change[k]!, 0) / compared : 0,
    ),
    regions: parts.map(
      ({ columns, rows, cellPx, light, readoutPosition, clippedAtTop, clippedAtWhite }, i) => ({
        region: regions[i]!,
        columns,
        rows,
        cellPx,
        light,
        clippedShare: Float32Array.from(useTop ? clippedAtTop : clippedAtWhite, (n) =>
          frames > 0 ? n / frames : 0,
        ),
        readoutPosition,
      }),
    ),
  };
}

/** As `sampleClip`, but every region for itself. */
export async function sampleRegions(
  source: FrameSource,
  regions: readonly PixelRect[],
  options: ReadOptions = {},
): Promise<RegionPass> {
  const { facts } = source;
  const expectedFrames = facts.declaredFrames ?? 4096;
  const { white } = codeLimits(facts.bitDepth, facts.range);
  const top = 2 ** facts.bitDepth - 1;
  const step = 2 ** (facts.bitDepth - 8);
  const whiteClip = white - CLIP_SLACK_CODES * step;
  const topClip = top - CLIP_SLACK_CODES * step;
  const table = lightTable(facts);
  const grids = regions.map((region) => makeGrid(region, facts, expectedFrames));
  const collect = (region: PixelRect, r: number): Collector => {
    const grid = grids[r]!;
    const planePx = rowsRead({ ...uprightToCoded(region, facts), rowStep: grid.rowStep }) * grid.stridePx;
    const reader = makeCellReader({ grid, planePx, table, limitCode: whiteClip }, facts.bitDepth);
    return makeCollector(grid, reader, expectedFrames);
  };
  let collectors: Collector[] = [];
  const rects = regions.map((region, r) => ({
    ...uprightToCoded(region, facts),
    rowStep: grids[r]!.rowStep,
  }));
  const thinned = rects.map((rect) =>
    rect.rowStep > 1 && !source.skipsRows ? planeFor(rect, facts.bitDepth) : null,
  );
  const times = await source.readRects(
    rects,
    (index, planes) => {
      if (index === 0) collectors = regions.map(collect);
      for (let r = 0; r < collectors.length; r++) {
        const collector = collectors[r]!;
        const plane = thinned[r] ?? planes[r]!;
        if (thinned[r]) copyRect(planes[r]!, { rect: rects[r]!, rowStep: 1 }, rects[r]!, plane);
        const { cells, reader, clippedAtTop, clippedAtWhite } = collector;
        if ((index + 1) * cells > collector.light.length) {
          collector.light = grow(collector.light, (index + 1) * cells);
        }
        if (index >= collector.change.length) collector.change = grow(collector.change, index);
        reader.read(plane);
        collector.light.set(reader.light, index * cells);
        collector.change[index] = reader.change;
        if (reader.highest > 0) {
          for (let c = 0; c < cells; c++) {
            if (reader.reached[c]! > 0) clippedAtWhite[c]!++;
            if (reader.reached[c]! >= topClip) clippedAtTop[c]!++;
          }
          collector.maxCode = Math.max(collector.maxCode, reader.highest);
        }
      }
    },
    options,
  );

  const frames = times.ptsTicks.length;
  return { regions: collectors.map((c) => finish(c, frames)), times };
}

function makeCollector(grid: CellGrid, reader: CellReader, expectedFrames: number): Collector {
  const cells = grid.columns * grid.rows;
  return {
    grid,
    cells,
    reader,
    clippedAtWhite: new Uint32Array(cells),
    clippedAtTop: new Uint32Array(cells),
    light: new Uint16Array(expectedFrames * cells),
    change: new Uint32Array(expectedFrames),
    maxCode: 0,
  };
}

function finish(collector: Collector, frames: number): RegionLight {
  const { grid, cells, light, clippedAtTop, clippedAtWhite, maxCode, change, reader } = collector;
  return {
    columns: grid.columns,
    rows: grid.rows,
    cellPx: grid.cellPx,
    light: light.length === frames * cells ? light : light.slice(0, frames * cells),
    readoutPosition: grid.readoutPosition,
    clippedAtWhite,
    clippedAtTop,
    maxCode,
    change: change.slice(0, frames),
    comparedPx: reader.comparedPx,
  };
}

/** Code value to linear light times `LIGHT_SCALE`, one entry a code. */
function lightTable(facts: ClipFacts): Float64Array {
  return Float64Array.from({ length: 2 ** facts.bitDepth }, (_, code) => {
    const light = decodeLight(normaliseLuma(code, facts.bitDepth, facts.range), facts.transfer);
    return Math.min(65_535, light * LIGHT_SCALE);
  });
}

function grow<A extends Uint32Array | Uint16Array>(array: A, needed: number): A {
  const length = Math.max(needed + 1, Math.ceil(array.length * 1.5));
  const bigger = (array instanceof Uint32Array
    ? new Uint32Array(length)
    : new Uint16Array(length)) as unknown as A;
  bigger.set(array as never);
  return bigger;
}
