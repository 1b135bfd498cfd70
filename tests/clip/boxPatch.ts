/** Rewrites the boxes of a small MP4 (index after the media data) to the times, edits and tags that a test wants. */
import { readFileSync, writeFileSync } from 'node:fs';

/** What to change; what is left out stays, but an edit list of the encoder is always taken out. */
export interface Patch {
  /** Ticks a second of the track. */
  readonly timescale?: number;
  /** Presentation times in presentation order, ticks of the track, from 0. */
  readonly ticks?: readonly number[];
  readonly edits?: readonly { durationS: number; mediaTicks: number; rate: number }[];
  /** a, b, c, d of the display matrix. */
  readonly matrix?: readonly [number, number, number, number];
  readonly captureTag?: number | string;
  /** `meta` with version and flags (ISO) instead of plain (QuickTime). */
  readonly isoMeta?: boolean;
  /** A PNG as the movie's cover. */
  readonly coverPng?: Buffer;
  /** Claimed number of samples. */
  readonly sampleCount?: number;
}

interface Node {
  type: string;
  body: Buffer;
  children: Node[] | null;
}

const CONTAINERS = new Set(['moov', 'trak', 'mdia', 'minf', 'stbl', 'edts']);

function parse(bytes: Buffer): Node[] {
  const nodes: Node[] = [];
  for (let at = 0; at < bytes.length; ) {
    const size = bytes.readUInt32BE(at);
    const type = bytes.toString('latin1', at + 4, at + 8);
    const body = bytes.subarray(at + 8, at + size);
    nodes.push({ type, body: Buffer.from(body), children: CONTAINERS.has(type) ? parse(body) : null });
    at += size;
  }
  return nodes;
}

function box(type: string | number, ...bodies: readonly Buffer[]): Buffer {
  const head = Buffer.alloc(8);
  head.writeUInt32BE(8 + bodies.reduce((sum, body) => sum + body.length, 0));
  if (typeof type === 'string') head.write(type, 4, 'latin1');
  else head.writeUInt32BE(type, 4);
  return Buffer.concat([head, ...bodies]);
}

function write(nodes: readonly Node[]): Buffer {
  return Buffer.concat(
    nodes.map((node) => box(node.type, node.children === null ? node.body : write(node.children))),
  );
}

function words(...values: readonly number[]): Buffer {
  const bytes = Buffer.alloc(values.length * 4);
  values.forEach((value, k) => {
    bytes.writeInt32BE(value | 0, k * 4);
  });
  return bytes;
}

function child(nodes: readonly Node[], ...path: readonly string[]): Node {
  const [type, ...rest] = path;
  const node = nodes.find((candidate) => candidate.type === type);
  if (node === undefined) throw new Error(`the clip has no ${type} box`);
  return rest.length === 0 ? node : child(node.children ?? [], ...rest);
}

function expand(table: Node | undefined, n: number): number[] {
  const values: number[] = [];
  if (table === undefined) return new Array<number>(n).fill(0);
  for (let run = 0; run < table.body.readUInt32BE(4); run++) {
    for (let left = table.body.readUInt32BE(8 + run * 8); left > 0; left--) {
      values.push(table.body.readInt32BE(12 + run * 8));
    }
  }
  return values;
}

/** Copies `from` to `to` with changed boxes. */
export function patchClip(from: string, to: string, patch: Patch): void {
  const nodes = parse(readFileSync(from));
  if (nodes.at(-1)?.type !== 'moov') throw new Error('the index must come last, so that its size is free');
  const moov = child(nodes, 'moov');
  const trak = child(nodes, 'moov', 'trak');
  const stbl = child(trak.children!, 'mdia', 'minf', 'stbl');
  const mdhd = child(trak.children!, 'mdia', 'mdhd');
  const movieTimescale = child(moov.children!, 'mvhd').body.readUInt32BE(12);
  if (patch.timescale !== undefined) mdhd.body.writeUInt32BE(patch.timescale, 12);
  retime(stbl, patch.ticks);
  trak.children = trak.children!.filter((node) => node.type !== 'edts');
  if (patch.edits !== undefined) {
    const entries = patch.edits.flatMap(({ durationS, mediaTicks, rate }) => [
      Math.round(durationS * movieTimescale),
      mediaTicks,
      Math.round(rate * 65536),
    ]);
    const body = box('elst', words(0, patch.edits.length, ...entries));
    trak.children.push({ type: 'edts', body, children: null });
  }
  if (patch.matrix !== undefined) {
    const at = [40, 44, 52, 56];
    const tkhd = child(trak.children, 'tkhd');
    patch.matrix.forEach((value, k) => {
      tkhd.body.writeInt32BE(Math.round(value * 65536), at[k]!);
    });
  }
  if (patch.sampleCount !== undefined) child(stbl.children!, 'stsz').body.writeUInt32BE(patch.sampleCount, 8);
  if (patch.captureTag !== undefined) {
    const meta = captureMeta(patch.captureTag, patch.isoMeta ?? false);
    moov.children!.push({ type: 'meta', body: meta, children: null });
  }
  if (patch.coverPng !== undefined) {
    const hdlr = box('hdlr', words(0, 0), Buffer.from('mdir'), words(0, 0, 0), Buffer.from([0]));
    const cover = box('covr', box('data', words(14, 0), patch.coverPng));
    const meta = box('meta', words(0), hdlr, box('ilst', cover));
    moov.children!.push({ type: 'udta', body: meta, children: null });
  }
  writeFileSync(to, write(nodes));
}

/** New times: the samples keep their order of decoding, and each takes the time of its place in presentation. */
function retime(stbl: Node, ticks: readonly number[] | undefined): void {
  const n = child(stbl.children!, 'stsz').body.readUInt32BE(8);
  const deltas = expand(child(stbl.children!, 'stts'), n);
  const offsets = expand(
    stbl.children!.find((node) => node.type === 'ctts'),
    n,
  );
  let decode = 0;
  const old = deltas.map((delta, i) => {
    const time = decode + offsets[i]!;
    decode += delta;
    return time;
  });
  const order = old.map((_, i) => i).sort((a, b) => old[a]! - old[b]!);
  const first = old[order[0]!]!;
  const times = ticks ?? order.map((i) => old[i]! - first);
  if (times.length !== n) throw new Error(`expected ${n} times, got ${times.length}`);
  const presented = new Array<number>(n);
  order.forEach((sample, place) => {
    presented[sample] = times[place]!;
  });
  // Decoding times are the presentation times in order, so that offsets are signed (version 1), as phones write.
  const decodeDeltas = times.map((time, i) => (times[i + 1] ?? time + 1) - time);
  const table = (values: readonly number[]) => values.flatMap((value) => [1, value]);
  child(stbl.children!, 'stts').body = words(0, n, ...table(decodeDeltas));
  stbl.children = stbl.children!.filter((node) => node.type !== 'ctts');
  const signed = words(0x01000000, n, ...table(presented.map((time, i) => time - times[i]!)));
  stbl.children.push({ type: 'ctts', body: signed, children: null });
}

function captureMeta(value: number | string, iso: boolean): Buffer {
  const hdlr = box('hdlr', words(0, 0), Buffer.from('mdta'), words(0, 0, 0), Buffer.from([0]));
  const keys = box('keys', words(0, 1), box('mdta', Buffer.from('com.android.capture.fps')));
  const bytes = typeof value === 'string' ? Buffer.from(value) : Buffer.alloc(4);
  if (typeof value === 'number') bytes.writeFloatBE(value);
  const data = box('data', words(typeof value === 'string' ? 1 : 23, 0), bytes);
  return Buffer.concat([iso ? words(0) : Buffer.alloc(0), hdlr, keys, box('ilst', box(1, data))]);
}
