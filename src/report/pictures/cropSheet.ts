/** The crops of one evidence strip, side by side in as few pictures as the gaps between camera frames allow. */
import { expected } from '../../errors.js';
import type { EvidenceFrame, EvidenceStrip } from '../../record/evidence.js';
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

/** One crop shrunk by whole factors (means of blocks; the last block may be smaller). */
function shrink(frame: EvidenceFrame, columns: number, rows: number, factor: number): Uint8Array {
  if (factor === 1) return frame.grey;
  const outColumns = Math.ceil(columns / factor);
  const outRows = Math.ceil(rows / factor);
  const out = new Uint8Array(outColumns * outRows);
  for (let r = 0; r < outRows; r++) {
    for (let c = 0; c < outColumns; c++) {
      let sum = 0;
      let count = 0;
      for (let y = r * factor; y < Math.min(rows, (r + 1) * factor); y++) {
        for (let x = c * factor; x < Math.min(columns, (c + 1) * factor); x++) {
          sum += frame.grey[y * columns + x] ?? 0;
          count++;
        }
      }
      out[r * outColumns + c] = Math.round(sum / count);
    }
  }
  return out;
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
    for (let k = 0; k < count; k++) {
      const crop = shrink(frames[first + k]!, columns, rows, factor);
      // Pixel by pixel: a view of each short row would take longer than its pixels.
      for (let y = 0; y < height; y++) {
        const to = (y * count + k) * width;
        for (let x = 0; x < width; x++) sheet[to + x] = crop[y * width + x]!;
      }
    }
    const address = pictureAddress(greyPng(width * count, height, sheet), 'image/png');
    runs.push({ first, last: i - 1, address });
    first = i;
  }
  return runs;
}
