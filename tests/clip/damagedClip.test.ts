/** A clip with bytes that are not the camera's: what FFmpeg makes of its damaged frames must not depend on its threads. */
import { createHash } from 'node:crypto';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { beforeAll, describe, expect, it } from 'vitest';
import { runFfmpeg } from '../../src/clip/ffmpeg.js';
import { openClip } from '../../src/clip/openClip.js';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import { sampleRegions } from '../../src/samples/sampleClip.js';
import { scratchFolder } from './numberedClip.js';

const SAMPLE = fileURLToPath(new URL('../../sample-clips/birch-variable.mp4', import.meta.url));
const folder = scratchFolder();
const RUNS = 3;
const CODECS = [
  ['h264', ['libx264', '-preset', 'ultrafast', '-crf', '16']],
  ['hevc', ['libx265', '-preset', 'ultrafast', '-crf', '18', '-x265-params', 'log-level=none']],
  ['vp9', ['libvpx-vp9', '-b:v', '2M', '-deadline', 'realtime', '-cpu-used', '8']],
] as const;
const pathOf = (codec: string) => join(folder, `${codec}.mkv`);

/** Two seconds in some codec, with 25 bytes of its middle part changed. */
async function makeDamaged(codec: string, encoder: readonly string[]): Promise<void> {
  const path = pathOf(codec);
  const input = ['-y', '-i', SAMPLE, '-t', '2', '-an'];
  const { exitCode } = await runFfmpeg({ args: [...input, '-c:v', ...encoder, path], onOutput: [] });
  if (exitCode !== 0) throw new Error(`no ${codec} clip was made`);
  const bytes = readFileSync(path);
  const random = seededRandom(14);
  for (let i = 0; i < 25; i++) {
    const at = Math.floor(bytes.length * random.uniform(0.2, 0.8));
    bytes[at] = bytes[at]! ^ (1 + random.integer(254));
  }
  writeFileSync(path, bytes);
}

beforeAll(async () => {
  for (const [codec, encoder] of CODECS) await makeDamaged(codec, encoder);
}, 60_000);

const hashOf = (bytes: Uint16Array | Uint32Array) => createHash('sha256').update(bytes).digest('hex');

describe('a damaged clip', () => {
  it.each(CODECS)('in %s gives the same light each time', async (codec) => {
    const clip = await openClip(pathOf(codec));
    const { codedWidth: width, codedHeight: height } = clip.facts;
    const runs = [];
    for (let i = 0; i < RUNS; i++) {
      const { regions, times } = await sampleRegions(clip, [{ x: 0, y: 0, width, height }]);
      const { light, change, maxCode, clippedAtWhite } = regions[0]!;
      const arrays = [light, change, clippedAtWhite].map(hashOf);
      runs.push({ arrays, maxCode, damagedFrames: times.damagedFrames, frames: times.ptsTicks.length });
    }
    if (codec === 'h264') expect(runs[0]!.damagedFrames).toBeGreaterThan(0);
    for (const run of runs) expect(run).toEqual(runs[0]);
  });

  it('gives the same shrunken pictures each time', async () => {
    const clip = await openClip(pathOf('h264'));
    const runs = [];
    for (let i = 0; i < RUNS; i++) {
      let hash = createHash('sha256');
      await clip.readOverview(160, (index, plane) => {
        if (index === 0) hash = createHash('sha256');
        hash.update(plane);
      });
      runs.push(hash.digest('hex'));
    }
    expect(new Set(runs).size).toBe(1);
  });
});
