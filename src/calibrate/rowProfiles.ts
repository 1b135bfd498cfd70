/** One pass over a clip of a flickering light: the mean light of every band of coded rows, frame by frame. */
import type { ClipFacts, FrameSource, FrameTimes, PixelRect, ReadOptions } from '../clip/frameSource.js';
import { codeLimits, decodeLight, normaliseLuma } from '../units.js';

/** Light by rows and frames. */
export interface RowProfiles {
  readonly frames: number;
  /** Bands of neighbouring coded rows, from the first coded row down. */
  readonly bands: number;
  /** Middle of each band as a share of the coded height, 0 (start of the first row) .. 1. */
  readonly position: Float64Array;
  /** `frames * bands`: mean linear light, frame after frame. */
  readonly light: Float32Array;
  /** Share of all pixels and frames that were clipped white, 0..1. */
  readonly clippedShare: number;
  readonly times: FrameTimes;
}

/** Rows finer than this add nothing to a line through them, but to memory. */
const MOST_BANDS = 480;
/** What is kept of the longest clip. */
const BUDGET_VALUES = 12_000_000;
/** Lossy coding scatters a clipped plateau by a few codes. */
const CLIP_SLACK_CODES = 3;

/**
 * The strip that is read where no region is named: all coded rows of the middle quarter of the columns, where lenses
 * are brightest.
 */
export function middleStrip(facts: Pick<ClipFacts, 'codedWidth' | 'codedHeight'>): PixelRect {
  const width = Math.max(2, Math.min(facts.codedWidth, 2 * Math.round(facts.codedWidth / 8)));
  const x = 2 * Math.floor((facts.codedWidth - width) / 4);
  return { x, y: 0, width, height: facts.codedHeight };
}

/**
 * Reads the profiles; light is made linear pixel by pixel. A clip too long for the memory set aside (25 000 camera
 * frames or more) is read up to there, which `times.stoppedEarly` tells.
 * @param rect coded pixels
 */
export async function readRowProfiles(
  source: FrameSource,
  rect: PixelRect,
  options: ReadOptions = {},
): Promise<RowProfiles> {
  const { facts } = source;
  const bands = Math.min(MOST_BANDS, rect.height);
  const bandOfRow = Uint16Array.from({ length: rect.height }, (_, y) =>
    Math.floor((y * bands) / rect.height),
  );
  const rowsOfBand = new Float64Array(bands);
  const position = new Float64Array(bands);
  for (let y = 0; y < rect.height; y++) {
    rowsOfBand[bandOfRow[y]!]! += 1;
    position[bandOfRow[y]!]! += rect.y + y + 0.5;
  }
  for (let b = 0; b < bands; b++) position[b]! /= rowsOfBand[b]! * facts.codedHeight;

  const top = 2 ** facts.bitDepth - 1;
  const table = Float32Array.from({ length: top + 1 }, (_, code) =>
    decodeLight(normaliseLuma(code, facts.bitDepth, facts.range), facts.transfer),
  );
  const { white } = codeLimits(facts.bitDepth, facts.range);
  const clipFrom = white - CLIP_SLACK_CODES * 2 ** (facts.bitDepth - 8);

  const mostFrames = Math.floor(BUDGET_VALUES / bands);
  let light = new Float32Array(bands * Math.min(mostFrames, facts.declaredFrames ?? 2048));
  const sums = new Float64Array(bands);
  let frames = 0;
  let clipped = 0;
  const times = await source.readRects(
    [rect],
    (index, planes) => {
      const plane = planes[0]!;
      if (index === 0) clipped = 0;
      sums.fill(0);
      for (let y = 0, i = 0; y < rect.height; y++) {
        let sum = 0;
        for (let x = 0; x < rect.width; x++, i++) {
          const code = plane[i]!;
          sum += table[code]!;
          if (code >= clipFrom) clipped++;
        }
        sums[bandOfRow[y]!]! += sum;
      }
      if ((index + 1) * bands > light.length) {
        const grown = new Float32Array(bands * Math.min(mostFrames, 2 * index + 2));
        grown.set(light);
        light = grown;
      }
      for (let b = 0; b < bands; b++) light[index * bands + b] = sums[b]! / (rowsOfBand[b]! * rect.width);
      frames = index + 1;
      return frames < mostFrames;
    },
    options,
  );
  return {
    frames,
    bands,
    position,
    light: light.subarray(0, frames * bands),
    clippedShare: frames > 0 ? clipped / (frames * rect.width * rect.height) : 0,
    times,
  };
}
