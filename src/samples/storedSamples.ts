/** Samples and frame times as bytes and back, exactly: no number is rounded on the way. */
import type { FrameTimes } from '../clip/frameSource.js';
import type { Region } from '../region/region.js';
import type { ClipSamples, RegionSamples } from './samples.js';

/**
 * Version of what `sampleClip` makes and of how it is stored. Raise it with every change of either: samples of another
 * version are not read. `tests/samples/cache.test.ts` holds a fingerprint of the samples of a known scene to it.
 */
export const SAMPLES_FORMAT = 1;

/** What one pass over a clip leaves behind. */
export interface SampledClip {
  readonly samples: ClipSamples;
  readonly times: FrameTimes;
}

interface Header {
  readonly format: number;
  readonly frames: number;
  readonly timeBase: FrameTimes['timeBase'];
  readonly damagedFrames: number;
  readonly regions: readonly Pick<RegionSamples, 'columns' | 'rows' | 'cellPx'>[];
}

/** Arrays begin at multiples of this, so that they can be read in place. */
const ALIGN = 8;

/** One block of bytes: length of the header, header as JSON, then the arrays one after another. */
export function packSamples({ samples, times }: SampledClip): Uint8Array {
  const header: Header = {
    format: SAMPLES_FORMAT,
    frames: samples.frames,
    timeBase: times.timeBase,
    damagedFrames: times.damagedFrames,
    regions: samples.regions.map(({ columns, rows, cellPx }) => ({ columns, rows, cellPx })),
  };
  const text = new TextEncoder().encode(JSON.stringify(header));
  const arrays = [
    times.ptsTicks,
    samples.frameChange,
    ...samples.regions.flatMap((r) => [r.light, r.clippedShare, r.readoutPosition]),
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
 * The samples again.
 * @param bytes what `packSamples` made; their checksum is the caller's affair.
 * @param regions in the order in which they were sampled; names and roles are theirs.
 * @returns null where the bytes do not fit: another format, other regions, cut off.
 */
export function unpackSamples(bytes: Uint8Array, regions: readonly Region[]): SampledClip | null {
  const headerLength =
    bytes.length < ALIGN ? 0 : new DataView(bytes.buffer, bytes.byteOffset).getUint32(0, true);
  if (headerLength === 0 || ALIGN + headerLength > bytes.length) return null;
  const header = JSON.parse(new TextDecoder().decode(bytes.subarray(ALIGN, ALIGN + headerLength))) as Header;
  if (header.format !== SAMPLES_FORMAT || header.regions.length !== regions.length) return null;
  const { frames } = header;
  const sizes = header.regions.map(({ columns, rows }) => columns * rows);
  const wanted = [
    8 * frames,
    4 * frames,
    ...sizes.flatMap((cells) => [2 * frames * cells, 4 * cells, 4 * cells]),
  ];
  const total = wanted.reduce((sum, n) => sum + aligned(n), ALIGN + aligned(headerLength));
  if (total !== bytes.length) return null;
  let at = ALIGN + aligned(headerLength);
  const next = (length: number): ArrayBuffer => {
    const from = bytes.byteOffset + at;
    at += aligned(length);
    return bytes.buffer.slice(from, from + length) as ArrayBuffer;
  };
  const ptsTicks = new Float64Array(next(wanted[0]!));
  const frameChange = new Float32Array(next(wanted[1]!));
  return {
    samples: {
      frames,
      frameChange,
      regions: header.regions.map((grid, i) => ({
        region: regions[i]!,
        ...grid,
        light: new Uint16Array(next(wanted[2 + 3 * i]!)),
        clippedShare: new Float32Array(next(wanted[3 + 3 * i]!)),
        readoutPosition: new Float32Array(next(wanted[4 + 3 * i]!)),
      })),
    },
    times: { ptsTicks, timeBase: header.timeBase, stoppedEarly: false, damagedFrames: header.damagedFrames },
  };
}

function aligned(length: number): number {
  return Math.ceil(length / ALIGN) * ALIGN;
}
