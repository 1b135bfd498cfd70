/**
 * Rewrites the index (`moov`) of a plain MP4 file as a phone would have written it: capture-rate tag, display
 * matrix, gaps in the timestamps. Sources: ISO/IEC 14496-12; QuickTime File Format, metadata atoms.
 */
import { UsageError } from '../errors.js';

/** What to change in the index; what is left out stays as it is. */
export interface MovieChanges {
  /** Written as `com.android.capture.fps`, a big-endian float32 (QuickTime data type 23) in `moov/meta`, Hz. */
  readonly captureRateTagHz?: number;
  /** Clockwise turn asked of a player. */
  readonly rotationDeg?: 0 | 90 | 180 | 270;
  /** Duration of each sample in frames (1, or more before a gap), for files without reordered frames. */
  readonly sampleFrames?: readonly number[];
}

interface Box {
  readonly type: string;
  readonly body: Uint8Array;
}

/** Boxes whose body is nothing but boxes, on the way to what is changed. */
const CONTAINERS = new Set(['moov', 'trak', 'mdia', 'minf', 'stbl']);

function split(bytes: Uint8Array): Box[] {
  const boxes: Box[] = [];
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  for (let at = 0; at + 8 <= bytes.length; ) {
    let size = view.getUint32(at);
    let header = 8;
    if (size === 1) {
      size = Number(view.getBigUint64(at + 8));
      header = 16;
    }
    if (size < header || at + size > bytes.length)
      throw new UsageError(`not a whole MP4 file: bad box at ${at}`);
    const type = String.fromCharCode(...bytes.subarray(at + 4, at + 8));
    boxes.push({ type, body: bytes.subarray(at + header, at + size) });
    at += size;
  }
  return boxes;
}

function joined(parts: readonly Uint8Array[]): Uint8Array {
  const out = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    out.set(part, at);
    at += part.length;
  }
  return out;
}

function text(value: string): Uint8Array {
  return Uint8Array.from(value, (c) => c.charCodeAt(0));
}

function words(...values: readonly number[]): Uint8Array {
  const out = new Uint8Array(4 * values.length);
  const view = new DataView(out.buffer);
  for (const [i, value] of values.entries()) view.setUint32(4 * i, value);
  return out;
}

function box(type: string | Uint8Array, ...parts: readonly Uint8Array[]): Uint8Array {
  const body = joined(parts);
  return joined([words(8 + body.length), typeof type === 'string' ? text(type) : type, body]);
}

/** QuickTime metadata with one float32 value; `meta` is a plain box here, as phones write it. */
function captureRateMeta(rateHz: number): Uint8Array {
  const value = new Uint8Array(4);
  new DataView(value.buffer).setFloat32(0, rateHz);
  return box(
    'meta',
    box('hdlr', words(0, 0), text('mdta'), words(0, 0, 0), new Uint8Array(1)),
    box('keys', words(0, 1), box('mdta', text('com.android.capture.fps'))),
    box('ilst', box(words(1), box('data', words(23, 0), value))),
  );
}

const MATRICES: Readonly<Record<0 | 90 | 180 | 270, readonly [number, number, number, number]>> = {
  0: [1, 0, 0, 1],
  90: [0, 1, -1, 0],
  180: [-1, 0, 0, -1],
  270: [0, -1, 1, 0],
};

function turnedTrackHeader(body: Uint8Array, rotationDeg: 0 | 90 | 180 | 270): Uint8Array {
  // A copy of its own: Node's buffers share memory when sliced.
  const out = new Uint8Array(body);
  const view = new DataView(out.buffer);
  const [a, b, c, d] = MATRICES[rotationDeg];
  const at = out[0] === 1 ? 52 : 40;
  // a b u, c d v, x y w; the translation stays 0, as in phones' files.
  for (const [cell, value] of [a, b, 0, c, d, 0, 0, 0].entries()) view.setInt32(at + 4 * cell, value * 65536);
  view.setInt32(at + 32, 0x40000000);
  return out;
}

/** `stts` with the stated durations; the unit is the duration of the samples as they were. */
function gappedTimes(body: Uint8Array, sampleFrames: readonly number[]): Uint8Array {
  const view = new DataView(body.buffer, body.byteOffset, body.byteLength);
  const unit = view.getUint32(12);
  const runs: { count: number; frames: number }[] = [];
  for (const frames of sampleFrames) {
    const last = runs.at(-1);
    if (last?.frames === frames) last.count++;
    else runs.push({ count: 1, frames });
  }
  return words(0, runs.length, ...runs.flatMap(({ count, frames }) => [count, frames * unit]));
}

function extraTicks(stts: Uint8Array, sampleFrames: readonly number[]): number {
  const unit = new DataView(stts.buffer, stts.byteOffset, stts.byteLength).getUint32(12);
  return unit * sampleFrames.reduce((sum, frames) => sum + frames - 1, 0);
}

function find(boxes: readonly Box[], path: readonly string[]): Uint8Array | undefined {
  const found = boxes.find(({ type }) => type === path[0])?.body;
  return found && path.length > 1 ? find(split(found), path.slice(1)) : found;
}

/** Adds time to the duration in `mvhd`, `tkhd` or `mdhd` (version 0), and to the first edit of `elst`. */
function lengthened(type: string, body: Uint8Array, addS: number, movieScale: number): Uint8Array {
  // A copy of its own: Node's buffers share memory when sliced.
  const out = new Uint8Array(body);
  const view = new DataView(out.buffer);
  if (type === 'edts') {
    // edts holds one elst: 8 bytes of box header, 8 of version and count, then the first edit's duration.
    view.setUint32(16, view.getUint32(16) + Math.round(addS * movieScale));
    return out;
  }
  const scale = type === 'tkhd' ? movieScale : view.getUint32(12);
  const at = type === 'tkhd' ? 20 : 16;
  view.setUint32(at, view.getUint32(at) + Math.round(addS * scale));
  return out;
}

/**
 * The file with a changed index. The index must lie behind the pictures (as FFmpeg writes it by default), so that
 * no offset changes.
 * @throws UsageError where the bytes are no such MP4 file.
 */
export function changeMovie(file: Uint8Array, changes: MovieChanges): Uint8Array {
  const top = split(file);
  const moov = top.at(-1);
  if (moov?.type !== 'moov')
    throw new UsageError('expected an MP4 file whose index lies behind its pictures');
  const { sampleFrames, rotationDeg, captureRateTagHz } = changes;
  const parts = split(moov.body);
  const stts = find(parts, ['trak', 'mdia', 'minf', 'stbl', 'stts']);
  const mdhd = find(parts, ['trak', 'mdia', 'mdhd']);
  const mvhd = find(parts, ['mvhd']);
  if (!stts || !mdhd || !mvhd) throw new UsageError('expected an MP4 file with a picture track');
  const scaleOf = (header: Uint8Array): number =>
    new DataView(header.buffer, header.byteOffset, header.byteLength).getUint32(12);
  const addS = sampleFrames ? extraTicks(stts, sampleFrames) / scaleOf(mdhd) : 0;
  const rewrite = ({ type, body }: Box): Uint8Array => {
    if (CONTAINERS.has(type)) return box(type, ...split(body).map(rewrite));
    let changed = body;
    if (addS > 0 && ['mvhd', 'tkhd', 'mdhd', 'edts'].includes(type)) {
      changed = lengthened(type, changed, addS, scaleOf(mvhd));
    }
    if (type === 'tkhd' && rotationDeg !== undefined) changed = turnedTrackHeader(changed, rotationDeg);
    if (type === 'stts' && sampleFrames) changed = gappedTimes(changed, sampleFrames);
    return box(type, changed);
  };
  const meta = captureRateTagHz === undefined ? [] : [captureRateMeta(captureRateTagHz)];
  const index = box('moov', ...parts.map(rewrite), ...meta);
  const pictures = file.subarray(0, file.length - moov.body.length - 8);
  return joined([pictures, index]);
}
