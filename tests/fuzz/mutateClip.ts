/** Hostile clips out of sound ones: bits, boxes, sizes, tables, rates, ends. */
import type { Draws } from './draws.js';

/** One box of an MP4 file, wherever it lies. */
interface Place {
  readonly type: string;
  readonly at: number;
  readonly size: number;
  readonly depth: number;
}

const CONTAINERS = new Set([
  'moov',
  'trak',
  'mdia',
  'minf',
  'stbl',
  'edts',
  'udta',
  'dinf',
  'moof',
  'traf',
  'mvex',
]);

function placesIn(bytes: Buffer, from = 0, to = bytes.length, depth = 0): Place[] {
  const places: Place[] = [];
  for (let at = from; at + 8 <= to; ) {
    const size = bytes.readUInt32BE(at);
    if (size < 8 || at + size > to) break;
    const type = bytes.toString('latin1', at + 4, at + 8);
    places.push({ type, at, size, depth });
    if (CONTAINERS.has(type)) places.push(...placesIn(bytes, at + 8, at + size, depth + 1));
    at += size;
  }
  return places;
}

/** Numbers that break careless arithmetic. */
const ODD_WORDS = [
  0, 1, 2, 7, 8, 9, 99, 255, 65_535, 1e6, 2e6, 2_000_001, 0x7fffffff, 0x80000000, 0xfffffffe, 0xffffffff,
];

/** Fields worth an absurd value: box, offset in its body, what it is. */
const FIELDS: readonly (readonly [type: string, offset: number, what: string])[] = [
  ['mvhd', 12, 'timescale of the movie'],
  ['mdhd', 12, 'timescale of the track'],
  ['mdhd', 16, 'duration'],
  ['stts', 4, 'number of runs of deltas'],
  ['stts', 8, 'frames of a run'],
  ['stts', 12, 'delta'],
  ['ctts', 4, 'number of runs of offsets'],
  ['ctts', 12, 'offset'],
  ['stsz', 4, 'common size'],
  ['stsz', 8, 'number of frames'],
  ['stsz', 12, 'size of a frame'],
  ['stsc', 4, 'number of runs of chunks'],
  ['stsc', 8, 'first chunk'],
  ['stsc', 12, 'frames a chunk'],
  ['stco', 4, 'number of chunks'],
  ['stco', 8, 'place of a chunk'],
  ['elst', 4, 'number of edits'],
  ['elst', 8, 'length of an edit'],
  ['elst', 12, 'start of an edit'],
  ['elst', 16, 'rate of an edit'],
  ['tkhd', 40, 'matrix a'],
  ['tkhd', 44, 'matrix b'],
  ['tkhd', 52, 'matrix c'],
  ['tkhd', 56, 'matrix d'],
  ['stsd', 4, 'number of sample entries'],
  ['stsd', 8, 'size of a sample entry'],
  ['stsd', 12, 'codec'],
  ['stsd', 40, 'width and height'],
  ['hdlr', 8, 'handler'],
  ['trex', 12, 'default duration'],
  ['tfhd', 8, 'fragment header'],
  ['trun', 4, 'frames of a fragment'],
  ['meta', 4, 'metadata'],
];

type Mutation = (bytes: Buffer, draws: Draws, other: Buffer) => Buffer;

const MUTATIONS: Readonly<Record<string, Mutation>> = {
  'bits anywhere': (bytes, draws) => flip(bytes, draws, 0, bytes.length, 1 + draws.below(64)),
  'bits of the index': (bytes, draws) => {
    const moov = placesIn(bytes).find(({ type }) => type === 'moov');
    if (!moov) return flip(bytes, draws, 0, Math.min(600, bytes.length), 1 + draws.below(8));
    return flip(bytes, draws, moov.at, moov.at + moov.size, 1 + draws.below(16));
  },
  'bits of the pictures': (bytes, draws) => {
    const mdat = placesIn(bytes).find(({ type }) => type === 'mdat');
    const [from, to] = mdat ? [mdat.at + 8, mdat.at + mdat.size] : [600, bytes.length];
    return flip(bytes, draws, from, to, 1 + draws.below(200));
  },
  'cut off': (bytes, draws) => bytes.subarray(0, 1 + draws.below(bytes.length)),
  'cut in the middle': (bytes, draws) => {
    const at = draws.below(bytes.length);
    return Buffer.concat([bytes.subarray(0, at), bytes.subarray(at + 1 + draws.below(2000))]);
  },
  'other bytes between': (bytes, draws, other) => {
    const at = draws.below(bytes.length);
    const from = draws.below(other.length);
    return Buffer.concat([
      bytes.subarray(0, at),
      other.subarray(from, from + 1 + draws.below(4000)),
      bytes.subarray(at),
    ]);
  },
  'bytes behind': (bytes, draws, other) => Buffer.concat([bytes, other.subarray(draws.below(other.length))]),
  'a field': (bytes, draws) => {
    const places = placesIn(bytes);
    const [type, offset] = draws.pick(FIELDS);
    const place = draws.pick(places.filter((p) => p.type === type));
    const at = place === undefined ? draws.below(bytes.length - 4) : place.at + 8 + offset;
    return put(bytes, at, oddWord(draws));
  },
  'a size': (bytes, draws) => {
    const places = placesIn(bytes);
    if (places.length === 0) return put(bytes, draws.below(Math.max(1, bytes.length - 4)), oddWord(draws));
    const place = draws.pick(places);
    const size = draws.pick([...ODD_WORDS, place.size + 1, place.size - 1, place.size * 2, bytes.length]);
    return put(bytes, place.at, size);
  },
  'a type': (bytes, draws) => {
    const places = placesIn(bytes);
    if (places.length < 2) return flip(bytes, draws, 0, bytes.length, 8);
    const copy = Buffer.from(bytes);
    copy.write(draws.pick(places).type, draws.pick(places).at + 4, 'latin1');
    return copy;
  },
  'two boxes swapped': (bytes, draws) => {
    const places = placesIn(bytes);
    const one = draws.pick(places);
    const two = draws.pick(places.filter((p) => one !== undefined && p.at >= one.at + one.size));
    if (one === undefined || two === undefined) return flip(bytes, draws, 0, bytes.length, 8);
    const part = (from: number, to: number) => bytes.subarray(from, to);
    return Buffer.concat([
      part(0, one.at),
      part(two.at, two.at + two.size),
      part(one.at + one.size, two.at),
      part(one.at, one.at + one.size),
      part(two.at + two.size, bytes.length),
    ]);
  },
  'a box taken out': (bytes, draws) => {
    const place = draws.pick(placesIn(bytes));
    if (place === undefined) return bytes.subarray(0, bytes.length >> 1);
    return Buffer.concat([bytes.subarray(0, place.at), bytes.subarray(place.at + place.size)]);
  },
  'a box blanked': (bytes, draws) => {
    const place = draws.pick(placesIn(bytes));
    const copy = Buffer.from(bytes);
    if (place !== undefined) copy.write('free', place.at + 4, 'latin1');
    return copy;
  },
  'a box twice': (bytes, draws) => {
    const place = draws.pick(placesIn(bytes).filter((p) => p.depth === 0));
    if (place === undefined) return Buffer.concat([bytes, bytes]);
    return Buffer.concat([bytes, bytes.subarray(place.at, place.at + place.size)]);
  },
  'a table of noise': (bytes, draws) => {
    const tables = placesIn(bytes).filter(({ type }) => /^(stts|ctts|stsz|stsc|stco|elst|trun)$/.test(type));
    const place = draws.pick(tables);
    if (place === undefined) return flip(bytes, draws, 0, Math.min(2000, bytes.length), 40);
    const copy = Buffer.from(bytes);
    for (let at = place.at + 16; at + 4 <= place.at + place.size; at += 4) {
      if (draws.chance(0.3)) copy.writeUInt32BE(oddWord(draws), at);
    }
    return copy;
  },
  'all zero from somewhere': (bytes, draws) => Buffer.from(bytes).fill(0, draws.below(bytes.length)),
};

function oddWord(draws: Draws): number {
  return draws.chance(0.6) ? draws.pick(ODD_WORDS) : Math.floor(draws.next() * 2 ** (1 + draws.below(32)));
}

function put(bytes: Buffer, at: number, word: number): Buffer {
  const copy = Buffer.from(bytes);
  if (at >= 0 && at + 4 <= copy.length) copy.writeUInt32BE(Math.max(0, Math.min(0xffffffff, word)), at);
  return copy;
}

function flip(bytes: Buffer, draws: Draws, from: number, to: number, count: number): Buffer {
  const copy = Buffer.from(bytes);
  for (let i = 0; i < count; i++) {
    const at = from + draws.below(Math.max(1, to - from));
    if (at < copy.length) copy[at] = copy[at]! ^ (1 << draws.below(8));
  }
  return copy;
}

/** A changed clip, and in which ways: one to three. */
export function mutateClip(
  bytes: Buffer,
  other: Buffer,
  draws: Draws,
): { readonly bytes: Buffer; readonly ways: string[] } {
  const ways: string[] = [];
  let changed = bytes;
  for (let left = 1 + draws.below(3); left > 0 && changed.length > 16; left--) {
    const way = draws.pick(Object.keys(MUTATIONS));
    changed = MUTATIONS[way]!(changed, draws, other);
    ways.push(way);
  }
  return { bytes: changed, ways };
}
