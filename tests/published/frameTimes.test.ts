/**
 * An independent reader of the container (mediabunny 1.61, MPL-2.0, no FFmpeg inside) must see the same frame times
 * as our decoding pass. What it calls a packet's timestamp is the presentation time after the edit list, in seconds;
 * packets before zero are the hidden pre-roll.
 */
import { join } from 'node:path';
import { ALL_FORMATS, EncodedPacketSink, FilePathSource, Input } from 'mediabunny';
import { beforeAll, describe, expect, it } from 'vitest';
import { openClip } from '../../src/clip/openClip.js';
import { type Patch, patchClip } from '../clip/boxPatch.js';
import { encodeNumbered, H264_WITH_B_FRAMES, NUMBER_RECT, scratchFolder } from '../clip/numberedClip.js';

const folder = scratchFolder();
const FRAMES = 120;
const base = join(folder, 'base.mp4');
const counted = Array.from({ length: FRAMES }, (_, i) => i);

beforeAll(async () => {
  await encodeNumbered(base, FRAMES, ...H264_WITH_B_FRAMES);
});

async function independentTimesS(path: string): Promise<number[]> {
  const input = new Input({ formats: ALL_FORMATS, source: new FilePathSource(path) });
  const track = await input.getPrimaryVideoTrack();
  if (track === null) throw new Error('the independent reader sees no picture');
  const times: number[] = [];
  for await (const packet of new EncodedPacketSink(track).packets(undefined, undefined, {
    metadataOnly: true,
  })) {
    if (packet.timestamp >= 0) times.push(packet.timestamp);
  }
  input.dispose();
  return times.sort((a, b) => a - b);
}

describe('frame times by an independent reader', () => {
  it.each<[string, Patch | null]>([
    ['as encoded, with B-frames and the encoder’s own edit list', null],
    [
      'jitter and gaps on 90 kHz',
      { ticks: counted.map((i) => i * 375 + ((i * 7919) % 61) + 750 * Math.floor(i / 25)) },
    ],
    ['a 600 Hz timescale', { timescale: 600, ticks: counted.map((i) => Math.round(i * 2.5)) }],
    ['a pre-roll hidden by a trim', { edits: [{ durationS: 90 / 240, mediaTicks: 30 * 375, rate: 1 }] }],
  ])('%s', async (name, patch) => {
    const path = patch === null ? base : join(folder, `${name}.mp4`);
    if (patch !== null) patchClip(base, path, patch);
    const clip = await openClip(path);
    const times = await clip.readRects([NUMBER_RECT], () => {});
    const ours = [...times.ptsTicks].map((tick) => (tick * times.timeBase[0]) / times.timeBase[1]);
    const theirs = await independentTimesS(path);
    expect(ours.length).toBeGreaterThanOrEqual(90);
    expect(ours).toHaveLength(theirs.length);
    const worst = Math.max(...ours.map((time, i) => Math.abs(time - theirs[i]!)));
    expect(worst).toBeLessThan(1e-9);
  });
});
