/** Walks a frame source once and keeps each region as a small grid of linear light. */
import type { ClipFacts, FrameSource, FrameTimes, LumaPlane, ReadOptions } from '../clip/frameSource.js';
import { uprightToCoded } from '../region/geometry.js';
import type { Region } from '../region/region.js';
import { codeLimits, decodeLight, normaliseLuma } from '../units.js';
import { type ClipSamples, LIGHT_SCALE, type RegionSamples } from './samples.js';

// A grid of 32 x 32 shows a sprite and keeps an LED pixel by pixel; the budget keeps a long clip's memory bounded.
const MAX_CELLS = 1024;
const REGION_BUDGET_BYTES = 48 * 1024 * 1024;
// An odd stride, so that no column of a region is compared alone.
const COMPARED_EVERY = 11;
// Lossy coding scatters a clipped plateau by a few codes.
const CLIP_SLACK_CODES = 3;

interface Collector {
  readonly region: Region;
  readonly columns: number;
  readonly rows: number;
  readonly cellPx: number;
  /** Runs of neighbouring pixels of one cell: run `n` covers pixels runStart[n] .. runStart[n + 1] - 1. */
  readonly runStart: Uint32Array;
  readonly runCell: Uint16Array;
  /** 1 / number of pixels of each cell. */
  readonly perPixel: Float64Array;
  readonly sums: Float64Array;
  readonly clippedAtWhite: Uint32Array;
  readonly clippedAtTop: Uint32Array;
  readonly readoutPosition: Float32Array;
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
  const previous: (LumaPlane | null)[] = regions.map(() => null);
  const clippedWhiteNow = collectors.map((c) => new Uint8Array(c.columns * c.rows));

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
        const cells = collector.columns * collector.rows;
        if ((index + 1) * cells > collector.light.length) {
          collector.light = grow(collector.light, (index + 1) * cells);
        }
        const { sums, runStart, runCell, clippedAtTop, clippedAtWhite, perPixel } = collector;
        const flags = clippedWhiteNow[r]!;
        sums.fill(0);
        let clippedAny = false;
        for (let run = 0; run < runCell.length; run++) {
          const end = runStart[run + 1]!;
          let sum = 0;
          let highest = 0;
          for (let i = runStart[run]!; i < end; i++) {
            const code = plane[i]!;
            sum += table[code]!;
            if (code > highest) highest = code;
          }
          const cell = runCell[run]!;
          sums[cell] = sums[cell]! + sum;
          if (highest >= whiteClip) {
            clippedAny = true;
            if (highest > maxCode) maxCode = highest;
            flags[cell] = highest >= topClip ? 2 : Math.max(1, flags[cell]!);
          }
        }
        if (clippedAny) {
          for (let c = 0; c < cells; c++) {
            if (flags[c]! >= 1) clippedAtWhite[c]!++;
            if (flags[c]! === 2) clippedAtTop[c]!++;
          }
          flags.fill(0);
        }
        const base = index * cells;
        const { light } = collector;
        for (let c = 0; c < cells; c++) light[base + c] = sums[c]! * perPixel[c]! + 0.5;
        const before = previous[r];
        if (before) {
          // A part of the pixels is plenty to tell a doubled frame from a new one.
          for (let i = 0; i < plane.length; i += COMPARED_EVERY) change += Math.abs(plane[i]! - before[i]!);
          compared += Math.ceil(plane.length / COMPARED_EVERY);
          before.set(plane);
        } else {
          previous[r] = plane.slice();
        }
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

function finish(c: Collector, frames: number, useTop: boolean): RegionSamples {
  const counts = useTop ? c.clippedAtTop : c.clippedAtWhite;
  const cells = c.columns * c.rows;
  return {
    region: c.region,
    columns: c.columns,
    rows: c.rows,
    cellPx: c.cellPx,
    light: c.light.length === frames * cells ? c.light : c.light.slice(0, frames * cells),
    clippedShare: Float32Array.from(counts, (n) => (frames > 0 ? n / frames : 0)),
    readoutPosition: c.readoutPosition,
  };
}

function makeCollector(region: Region, facts: ClipFacts, expectedFrames: number): Collector {
  const budgetCells = Math.floor(REGION_BUDGET_BYTES / (2 * Math.max(1, expectedFrames)));
  const maxCells = Math.max(16, Math.min(MAX_CELLS, budgetCells));
  let cellPx = Math.max(1, Math.floor(Math.sqrt((region.width * region.height) / maxCells)));
  while (Math.ceil(region.width / cellPx) * Math.ceil(region.height / cellPx) > maxCells) cellPx++;
  const columns = Math.ceil(region.width / cellPx);
  const rows = Math.ceil(region.height / cellPx);
  const cells = columns * rows;
  const coded = uprightToCoded(region, facts);
  const cellOfPixel = new Uint16Array(coded.width * coded.height);
  const pixelsPerCell = new Float64Array(cells);
  const rowSum = new Float64Array(cells);
  const { rotationDeg, mirrored } = facts.orientation;
  for (let py = 0; py < coded.height; py++) {
    for (let px = 0; px < coded.width; px++) {
      const mx = mirrored ? coded.width - 1 - px : px;
      let ux = mx;
      let uy = py;
      if (rotationDeg === 90) [ux, uy] = [coded.height - 1 - py, mx];
      else if (rotationDeg === 180) [ux, uy] = [coded.width - 1 - mx, coded.height - 1 - py];
      else if (rotationDeg === 270) [ux, uy] = [py, coded.width - 1 - mx];
      const cell = Math.floor(uy / cellPx) * columns + Math.floor(ux / cellPx);
      cellOfPixel[py * coded.width + px] = cell;
      pixelsPerCell[cell]!++;
      rowSum[cell]! += (coded.y + py + 0.5) / facts.codedHeight;
    }
  }
  return {
    region,
    columns,
    rows,
    cellPx,
    ...runsOf(cellOfPixel),
    perPixel: pixelsPerCell.map((n) => 1 / n),
    sums: new Float64Array(cells),
    clippedAtWhite: new Uint32Array(cells),
    clippedAtTop: new Uint32Array(cells),
    readoutPosition: Float32Array.from(rowSum, (sum, c) => sum / pixelsPerCell[c]!),
    light: new Uint16Array(expectedFrames * cells),
  };
}

/** Pixels in reading order as runs that belong to one cell; summing a run needs no look-up a pixel. */
function runsOf(cellOfPixel: Uint16Array): { runStart: Uint32Array; runCell: Uint16Array } {
  const starts: number[] = [];
  const cells: number[] = [];
  for (let i = 0; i < cellOfPixel.length; i++) {
    if (i > 0 && cellOfPixel[i] === cellOfPixel[i - 1]) continue;
    starts.push(i);
    cells.push(cellOfPixel[i]!);
  }
  starts.push(cellOfPixel.length);
  return { runStart: Uint32Array.from(starts), runCell: Uint16Array.from(cells) };
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
