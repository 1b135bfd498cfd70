/** The crops of one evidence strip, side by side in as few pictures as the gaps between camera frames allow. */
import { expected } from '../../errors.js';
import type { EvidenceStrip } from '../../record/evidence.js';
import { greyPng, pictureAddress } from './greyPng.js';

/** Consecutive camera frames in one picture. */
export interface CropRun {
  /** Indices into the strip's frames, both included. */
  readonly first: number;
  readonly last: number;
  /** `data:` address of a grey PNG with the crops of these frames from left to right. */
  readonly address: string;
}

/** Crops are for the eye at some 24 px each: more cells than this would only make the report heavy. */
const MAX_CELLS = 32;

/** Puts one crop onto a sheet of `stride` columns, shrunk by whole factors (means of blocks; the last block may be smaller). */
function putCrop(
  sheet: Uint8Array,
  stride: number,
  left: number,
  grey: Uint8Array,
  { columns, rows }: Pick<EvidenceStrip, 'columns' | 'rows'>,
  factor: number,
): void {
  const sums = new Uint32Array(Math.ceil(columns / factor));
  for (let top = 0, to = left; top < rows; top += factor, to += stride) {
    const bottom = Math.min(rows, top + factor);
    sums.fill(0);
    for (let at = top * columns; at < bottom * columns; )
      for (let c = 0, end = factor; c < sums.length; c++, end += factor)
        for (let x = Math.max(0, end - factor); x < end && x < columns; x++) sums[c]! += grey[at++]!;
    for (let c = 0; c < sums.length; c++) {
      const across = Math.min(factor, columns - c * factor);
      sheet[to + c] = Math.round(sums[c]! / ((bottom - top) * across));
    }
  }
}

/**
 * Runs of consecutive camera frames (a distance of more than 1.5 periods starts a new one), each as one picture.
 * `periodS`: capture period, s. Throws `UsageError` where a crop has not `columns * rows` bytes.
 */
export function cropSheet(strip: EvidenceStrip, periodS: number): readonly CropRun[] {
  const { frames, columns, rows } = strip;
  for (const frame of frames) {
    if (frame.grey.length !== columns * rows || columns < 1 || rows < 1) {
      throw expected(`crop of region ${strip.region}`, `${columns} * ${rows} bytes`, frame.grey.length);
    }
  }
  const factor = Math.max(1, Math.ceil(Math.max(columns, rows) / MAX_CELLS));
  const width = Math.ceil(columns / factor);
  const height = Math.ceil(rows / factor);
  const runs: CropRun[] = [];
  let first = 0;
  for (let i = 1; i <= frames.length; i++) {
    const gapS =
      i < frames.length ? frames[i]!.capturedAtS - frames[i - 1]!.capturedAtS : Number.POSITIVE_INFINITY;
    if (gapS <= 1.5 * periodS) continue;
    const count = i - first;
    const sheet = new Uint8Array(width * count * height);
    for (let k = 0; k < count; k++)
      putCrop(sheet, width * count, k * width, frames[first + k]!.grey, strip, factor);
    const address = pictureAddress(greyPng(width * count, height, sheet), 'image/png');
    runs.push({ first, last: i - 1, address });
    first = i;
  }
  return runs;
}
