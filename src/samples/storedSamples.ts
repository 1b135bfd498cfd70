/** One region's light and the frame times as bytes and back, exactly: no number is rounded on the way. */
import type { FrameTimes } from '../clip/frameSource.js';
import type { RegionLight } from './sampleClip.js';

/**
 * Version of what `sampleRegions` makes and of how it is stored. Raise it with every change of either: light of another
 * version is not read. `tests/samples/cache.test.ts` holds a fingerprint of the samples of a known scene to it.
 */
export const SAMPLES_FORMAT = 4;

/** One region of a clip, and when its frames were. */
export interface StoredRegion {
  readonly light: RegionLight;
  readonly times: FrameTimes;
}

interface Header extends Pick<RegionLight, 'columns' | 'rows' | 'cellPx' | 'maxCode' | 'comparedPx'> {
  readonly format: number;
  readonly frames: number;
  readonly timeBase: FrameTimes['timeBase'];
  readonly damagedFrames: number;
}

/** Arrays begin at multiples of this, so that they can be read in place. */
const ALIGN = 8;

/** One block of bytes: length of the header, header as JSON, then the arrays one after another. */
export function packRegion({ light, times }: StoredRegion): Uint8Array {
  const { columns, rows, cellPx, maxCode, comparedPx } = light;
  const header: Header = {
    format: SAMPLES_FORMAT,
    frames: times.ptsTicks.length,
    timeBase: times.timeBase,
    damagedFrames: times.damagedFrames,
    ...{ columns, rows, cellPx, maxCode, comparedPx },
  };
  const text = new TextEncoder().encode(JSON.stringify(header));
  const arrays = [
    times.ptsTicks,
    light.change,
    light.light,
    light.clippedAtWhite,
    light.clippedAtTop,
    light.readoutPosition,
  ].map((a) => new Uint8Array(a.buffer, a.byteOffset, a.byteLength));
  let length = ALIGN + aligned(text.length);
  const places = arrays.map((a) => {
    const at = length;
    length += aligned(a.length);
    return at;
  });
  const bytes = new Uint8Array(length);
  new DataView(bytes.buffer).setUint32(0, text.length, true);
  bytes.set(text, ALIGN);
  arrays.forEach((a, i) => {
    bytes.set(a, places[i]!);
  });
  return bytes;
}

/**
 * The region again, in the same memory where that is possible.
 * @param bytes what `packRegion` made; their checksum is the caller's affair.
 * @returns null where the bytes do not fit: another format, cut off.
 */
export function unpackRegion(bytes: Uint8Array): StoredRegion | null {
  const headerLength =
    bytes.length < ALIGN ? 0 : new DataView(bytes.buffer, bytes.byteOffset).getUint32(0, true);
  if (headerLength === 0 || ALIGN + headerLength > bytes.length) return null;
  const header = JSON.parse(new TextDecoder().decode(bytes.subarray(ALIGN, ALIGN + headerLength))) as Header;
  if (header.format !== SAMPLES_FORMAT) return null;
  const { frames, timeBase, damagedFrames, columns, rows, cellPx, maxCode, comparedPx } = header;
  const cells = columns * rows;
  const wanted = [8 * frames, 4 * frames, 2 * frames * cells, 4 * cells, 4 * cells, 4 * cells];
  const total = wanted.reduce((sum, n) => sum + aligned(n), ALIGN + aligned(headerLength));
  if (total !== bytes.length) return null;
  let at = ALIGN + aligned(headerLength);
  // A copy of some ten megabytes is saved where the bytes lie as the arrays want them.
  const inPlace = bytes.byteOffset % ALIGN === 0;
  const pieces = wanted.map((length) => {
    const from = at;
    at += aligned(length);
    return inPlace ? bytes.subarray(from, from + length) : bytes.slice(from, from + length);
  });
  const as = <A>(Kind: NumbersOf<A>, piece: Uint8Array): A =>
    new Kind(piece.buffer as ArrayBuffer, piece.byteOffset, piece.byteLength / Kind.BYTES_PER_ELEMENT);
  const [ticks, change, light, clippedAtWhite, clippedAtTop, readoutPosition] = pieces;
  return {
    light: {
      ...{ columns, rows, cellPx, maxCode, comparedPx },
      change: as(Uint32Array, change!),
      light: as(Uint16Array, light!),
      clippedAtWhite: as(Uint32Array, clippedAtWhite!),
      clippedAtTop: as(Uint32Array, clippedAtTop!),
      readoutPosition: as(Float32Array, readoutPosition!),
    },
    times: { ptsTicks: as(Float64Array, ticks!), timeBase, stoppedEarly: false, damagedFrames },
  };
}

interface NumbersOf<A> {
  readonly BYTES_PER_ELEMENT: number;
  new (buffer: ArrayBuffer, byteOffset: number, length: number): A;
}

function aligned(length: number): number {
  return Math.ceil(length / ALIGN) * ALIGN;
}
