/**
 * A small, bounded reader of the boxes of an MP4 or MOV file (ISO/IEC 14496-12 and the QuickTime File Format):
 * just what a player hides and timing needs. It never trusts a size or a count from the file.
 */
import type { FileHandle } from 'node:fs/promises';
import { AnalysisError } from '../errors.js';
import { presentationTicks, samplesInside } from './sampleTables.js';

/** Bounds on what a hostile file may ask for. */
const MAX_MOOV_BYTES = 64 * 2 ** 20;
const MAX_BOXES = 10_000;
const MAX_DEPTH = 16;
const MAX_TOP_LEVEL = 4096;
/** Most frames that are read: more than two hours at 240 Hz. A header can claim any number in a few bytes. */
export const MAX_SAMPLES = 2_000_000;
/** Entries of an edit list; cameras write one or two. */
const MAX_EDITS = 1000;

/** Top-level boxes of ISO/IEC 14496-12 and QuickTime; anything else at the end of a file is no part of the movie. */
const MOVIE_BOXES = new Set(
  'ftyp moov mdat moof mfra free skip wide pnot styp sidx ssix prft udta uuid meta emsg pdin'.split(' '),
);

/** One entry of an edit list. */
export interface Edit {
  /** Length in ticks of the movie's timescale; 0 means to the end. */
  readonly durationTicks: number;
  /** Start in ticks of the track's timescale; -1 is an empty edit. */
  readonly mediaTicks: number;
  /** Playback rate as stored (16.16), 1 is normal. */
  readonly rate: number;
}

/** One picture or sound track. */
export interface Track {
  /** `vide`, `soun`, ... */
  readonly handler: string;
  readonly timescale: number;
  readonly edits: readonly Edit[];
  /** a, b, c, d of the display matrix, 16.16 read as numbers. */
  readonly matrix: readonly [number, number, number, number];
  readonly sampleCount: number;
  /** Picture tracks only: presentation times, ticks of the track, in decode order, before any edit. */
  readonly presentationTicks: Float64Array;
  /** Picture tracks only: samples that lie wholly inside the file. */
  readonly samplesPresent: number;
  /** `colr` of the first sample entry: code points of ITU-T H.273; null where absent. */
  readonly colour: { readonly transfer: number; readonly fullRange: boolean | null } | null;
}

/** What the boxes of a file say. */
export interface Boxes {
  readonly movieTimescale: number;
  readonly tracks: readonly Track[];
  /** `com.android.capture.fps` as stored, whatever it is; null where absent. */
  readonly captureTagHz: number | null;
  /** Frames come in fragments, which the tables of the tracks do not list. */
  readonly fragmented: boolean;
  /** The last box claims more bytes than the file has. */
  readonly cutShort: boolean;
  /** Bytes after the last box that belongs to a movie: notes of the camera's own, or what a copy left behind. */
  readonly trailingBytes: number;
  readonly majorBrand: string;
}

interface Box {
  readonly type: string;
  readonly body: Buffer;
}

/**
 * Reads the box tree of an open file.
 * @throws AnalysisError `clip-unreadable` where the index (`moov`) is missing, damaged or beyond the bounds.
 */
export async function readBoxes(file: FileHandle, fileBytes: number, name: string): Promise<Boxes> {
  let moov: Buffer | null = null;
  let majorBrand = '';
  let cutShort = false;
  let fragmented = false;
  let movieEnd = 0;
  const head = Buffer.alloc(16);
  for (let at = 0, count = 0; at + 8 <= fileBytes && count < MAX_TOP_LEVEL; count++) {
    const { bytesRead } = await file.read(head, 0, 16, at);
    if (bytesRead < 8) break;
    let size = head.readUInt32BE(0);
    let header = 8;
    const type = head.toString('latin1', 4, 8);
    if (size === 1 && bytesRead === 16) {
      size = Number(head.readBigUInt64BE(8));
      header = 16;
    } else if (size === 0) {
      size = fileBytes - at;
    }
    if (size < header || !/^[\w ]{4}$/.test(type)) break;
    const present = Math.min(size, fileBytes - at);
    // Behind a whole index and its pictures, a box of another kind is a note, whatever length it claims.
    if (present < size && MOVIE_BOXES.has(type)) cutShort = true;
    if (MOVIE_BOXES.has(type)) movieEnd = at + present;
    if (type === 'moof') fragmented = true;
    if ((type === 'moov' && moov === null) || type === 'ftyp') {
      if (present < size) throw damaged(name, 'its index is cut off');
      if (size > MAX_MOOV_BYTES) throw damaged(name, 'its index is larger than any camera writes');
      const body = Buffer.alloc(size - header);
      await file.read(body, 0, body.length, at + header);
      if (type === 'moov') moov = body;
      else majorBrand = body.toString('latin1', 0, 4);
    }
    at += size;
  }
  if (moov === null) {
    throw new AnalysisError(
      'clip-unreadable',
      `${name} has no index (moov box): the recording or the copy was broken off; copy it again from the camera.`,
    );
  }
  try {
    const trailingBytes = fileBytes - movieEnd;
    return { ...parseMovie(moov, fileBytes, name), fragmented, cutShort, trailingBytes, majorBrand };
  } catch (cause) {
    if (cause instanceof AnalysisError) throw cause;
    // A read past the end of a box: RangeError of Buffer.
    throw damaged(name, 'a box in its index is shorter than it claims', cause);
  }
}

function damaged(name: string, what: string, cause?: unknown): AnalysisError {
  return new AnalysisError(
    'clip-unreadable',
    `${name} is damaged: ${what}; copy it again from the camera.`,
    {},
    cause,
  );
}

function parseMovie(moov: Buffer, fileBytes: number, name: string) {
  const budget = { boxes: 0, samples: 0 };
  const children = (body: Buffer, depth: number): Box[] => {
    const boxes: Box[] = [];
    for (let at = 0; at + 8 <= body.length; ) {
      if (++budget.boxes > MAX_BOXES || depth > MAX_DEPTH) throw damaged(name, 'its index nests too deeply');
      let size = body.readUInt32BE(at);
      let header = 8;
      if (size === 1 && at + 16 <= body.length) {
        size = Number(body.readBigUInt64BE(at + 8));
        header = 16;
      } else if (size === 0) {
        size = body.length - at;
      }
      if (size < header || at + size > body.length) break;
      boxes.push({
        type: body.toString('latin1', at + 4, at + 8),
        body: body.subarray(at + header, at + size),
      });
      at += size;
    }
    return boxes;
  };
  const top = children(moov, 1);
  const mvhd = pick(top, 'mvhd');
  const tracks = top.filter((box) => box.type === 'trak').map((trak) => parseTrack(trak.body));
  const udta = pick(top, 'udta');
  const meta = pick(top, 'meta') ?? (udta === undefined ? undefined : pick(children(udta, 2), 'meta'));
  return {
    movieTimescale: mvhd === undefined ? 0 : mvhd.readUInt32BE(mvhd[0] === 1 ? 20 : 12),
    tracks,
    captureTagHz: meta === undefined ? null : captureTag(meta),
  };

  function parseTrack(trak: Buffer): Track {
    const boxes = children(trak, 2);
    const tkhd = pick(boxes, 'tkhd');
    const mdia = children(pick(boxes, 'mdia') ?? Buffer.alloc(0), 3);
    const mdhd = pick(mdia, 'mdhd');
    const hdlr = pick(mdia, 'hdlr');
    const stbl = children(
      pick(children(pick(mdia, 'minf') ?? Buffer.alloc(0), 4), 'stbl') ?? Buffer.alloc(0),
      5,
    );
    const elst = pick(children(pick(boxes, 'edts') ?? Buffer.alloc(0), 3), 'elst');
    const stsz = pick(stbl, 'stsz');
    const places = { stsz, stsc: pick(stbl, 'stsc'), stco: pick(stbl, 'stco'), co64: pick(stbl, 'co64') };
    const sampleCount = stsz === undefined ? 0 : stsz.readUInt32BE(8);
    const handler = hdlr === undefined ? '' : hdlr.toString('latin1', 8, 12);
    const isPicture = handler === 'vide';
    // Uncompressed sound counts each value as a sample, at no cost; a table of sizes costs FFmpeg memory.
    if (isPicture || stsz?.readUInt32BE(4) === 0) budget.samples += sampleCount;
    if (budget.samples > MAX_SAMPLES) {
      throw damaged(name, `it claims ${sampleCount} frames, more than lagreel reads (${MAX_SAMPLES})`);
    }
    const at = tkhd === undefined ? 0 : tkhd[0] === 1 ? 52 : 40;
    const cell = (k: number) =>
      tkhd === undefined ? (k % 4 === 0 ? 1 : 0) : tkhd.readInt32BE(at + 4 * k) / 65536;
    return {
      handler,
      timescale: mdhd === undefined ? 0 : mdhd.readUInt32BE(mdhd[0] === 1 ? 20 : 12),
      edits: elst === undefined ? [] : parseEdits(elst),
      matrix: [cell(0), cell(1), cell(3), cell(4)],
      sampleCount,
      presentationTicks: isPicture
        ? presentationTicks(pick(stbl, 'stts'), pick(stbl, 'ctts'), sampleCount)
        : new Float64Array(0),
      samplesPresent: isPicture ? samplesInside(places, sampleCount, fileBytes) : 0,
      colour: isPicture ? parseColour(pick(stbl, 'stsd')) : null,
    };
  }

  function parseColour(stsd: Buffer | undefined): Track['colour'] {
    const entry = stsd === undefined ? undefined : children(stsd.subarray(8), 6)[0];
    if (entry === undefined || entry.body.length < 78) return null;
    const colr = pick(children(entry.body.subarray(78), 7), 'colr');
    if (colr === undefined || colr.length < 10) return null;
    const kind = colr.toString('latin1', 0, 4);
    if (kind !== 'nclx' && kind !== 'nclc') return null;
    const fullRange = kind === 'nclx' && colr.length > 10 ? (colr.readUInt8(10) & 0x80) !== 0 : null;
    return { transfer: colr.readUInt16BE(6), fullRange };
  }

  /** QuickTime metadata: `keys` names, `ilst` values by the key's number. Both box forms of `meta` exist. */
  function captureTag(meta: Buffer): number | null {
    const plain = meta.toString('latin1', 4, 8) === 'hdlr';
    const boxes = children(plain ? meta : meta.subarray(4), 3);
    const keys = pick(boxes, 'keys');
    const ilst = pick(boxes, 'ilst');
    if (keys === undefined || ilst === undefined) return null;
    const index = children(keys.subarray(8), 4).findIndex(
      (key) => key.type === 'mdta' && key.body.toString('latin1') === 'com.android.capture.fps',
    );
    if (index < 0) return null;
    const item = children(ilst, 4).find(
      (box) => Buffer.from(box.type, 'latin1').readUInt32BE(0) === index + 1,
    );
    const data = item === undefined ? undefined : pick(children(item.body, 5), 'data');
    if (data === undefined || data.length < 9) return null;
    const value = data.subarray(8);
    const type = data.readUInt32BE(0);
    if (type === 23 && value.length === 4) return value.readFloatBE(0);
    const text = value.toString('latin1');
    if (type === 1 && /^\d{1,5}(\.\d{1,9})?$/.test(text)) return Number(text);
    return Number.NaN;
  }
}

function pick(boxes: readonly Box[], type: string): Buffer | undefined {
  return boxes.find((box) => box.type === type)?.body;
}

function parseEdits(elst: Buffer): Edit[] {
  const wide = elst[0] === 1;
  const step = wide ? 20 : 12;
  const count = Math.min(MAX_EDITS, elst.readUInt32BE(4), Math.floor((elst.length - 8) / step));
  return Array.from({ length: count }, (_, k) => {
    const at = 8 + k * step;
    return wide
      ? {
          durationTicks: Number(elst.readBigUInt64BE(at)),
          mediaTicks: Number(elst.readBigInt64BE(at + 8)),
          rate: elst.readInt32BE(at + 16) / 65536,
        }
      : {
          durationTicks: elst.readUInt32BE(at),
          mediaTicks: elst.readInt32BE(at + 4),
          rate: elst.readInt32BE(at + 8) / 65536,
        };
  });
}
