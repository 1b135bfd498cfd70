/** A grey PNG in a few lines: small pictures of evidence need no picture library. */
import { crc32, deflateSync } from 'node:zlib';
import { expected } from '../../errors.js';

const SIGNATURE = Uint8Array.of(0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a);

/** PNG 3rd edition 5.3: length, type, data, CRC over type and data. */
function chunk(type: string, data: Uint8Array): Uint8Array {
  const out = new Uint8Array(12 + data.length);
  const view = new DataView(out.buffer);
  view.setUint32(0, data.length);
  for (let i = 0; i < 4; i++) out[4 + i] = type.charCodeAt(i);
  out.set(data, 8);
  view.setUint32(8 + data.length, crc32(out.subarray(4, 8 + data.length)));
  return out;
}

/**
 * An 8-bit grey PNG (colour type 0, no interlace, filter 0 in every row: crops are small and noisy, other filters
 * gain nothing). `grey` holds `widthPx * heightPx` bytes, row by row. Throws `UsageError` on other lengths.
 * Source: W3C Portable Network Graphics (PNG) Specification, third edition, clauses 5.3, 11.2.1 to 11.2.4.
 */
export function greyPng(widthPx: number, heightPx: number, grey: Uint8Array): Uint8Array {
  if (!(Number.isInteger(widthPx) && Number.isInteger(heightPx) && widthPx > 0 && heightPx > 0)) {
    throw expected('size of a grey picture', 'whole numbers of 1 px and more', `${widthPx} x ${heightPx}`);
  }
  if (grey.length !== widthPx * heightPx) {
    throw expected('grey.length', `${widthPx} * ${heightPx}`, grey.length);
  }
  const header = new Uint8Array(13);
  const view = new DataView(header.buffer);
  view.setUint32(0, widthPx);
  view.setUint32(4, heightPx);
  header[8] = 8;
  const rows = new Uint8Array((widthPx + 1) * heightPx);
  for (let y = 0; y < heightPx; y++) {
    rows.set(grey.subarray(y * widthPx, (y + 1) * widthPx), y * (widthPx + 1) + 1);
  }
  return Buffer.concat([
    SIGNATURE,
    chunk('IHDR', header),
    chunk('IDAT', deflateSync(rows, { level: 6 })),
    chunk('IEND', new Uint8Array(0)),
  ]);
}

/** A `data:` address of picture bytes. */
export function pictureAddress(bytes: Uint8Array, type: 'image/png' | 'image/jpeg'): string {
  return `data:${type};base64,${Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength).toString('base64')}`;
}
