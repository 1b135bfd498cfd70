import { mkdtemp, readdir, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { FrameSource } from '../../src/clip/frameSource.js';
import { openClip } from '../../src/clip/openClip.js';
import { UsageError } from '../../src/errors.js';
import { type EncodeOptions, encodeClip } from '../../src/simulate/encodeClip.js';
import { changeMovie } from '../../src/simulate/movieBoxes.js';
import { randomScene } from '../../src/simulate/randomScene.js';
import { simulateSource } from '../../src/simulate/renderSource.js';
import type { Scene, SceneCamera } from '../../src/simulate/scene.js';
import type { SceneOptions } from '../../src/simulate/sceneOptions.js';

let folder: string;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'lagreel-encode-'));
});
afterAll(() => rm(folder, { recursive: true, force: true }));

/** A short scene in which the LED and the screen change. */
function shortScene(name: string, options: SceneOptions = {}, camera: Partial<SceneCamera> = {}): Scene {
  const drawn = randomScene(51, {
    widthPx: 96,
    heightPx: 64,
    presses: 2,
    fixedDelayMs: [20, 20],
    ...options,
  });
  return {
    ...drawn,
    name,
    presses: { ...drawn.presses, leadInS: 0.02, intervalMinS: 0.1, intervalMaxS: 0.15 },
    camera: { ...drawn.camera, frames: 60, ...camera },
  };
}

async function everything(
  source: FrameSource,
): Promise<{ planes: number[][]; ticks: number[]; timeBase: number }> {
  const { codedWidth: width, codedHeight: height } = source.facts;
  const planes: number[][] = [];
  const times = await source.readRects([{ x: 0, y: 0, width, height }], (_, [plane]) => {
    planes.push([...plane!]);
  });
  return { planes, ticks: [...times.ptsTicks], timeBase: times.timeBase[0] / times.timeBase[1] };
}

async function rmsOfRoundTrip(scene: Scene, options: EncodeOptions): Promise<number> {
  const { clipPath } = await encodeClip(scene, folder, options);
  const stored = await everything(await openClip(clipPath));
  const rendered = await everything(simulateSource(scene));
  expect(stored.planes).toHaveLength(rendered.planes.length);
  const seconds = (all: { ticks: number[]; timeBase: number }): number[] =>
    all.ticks.map((tick) => (tick - all.ticks[0]!) * all.timeBase);
  for (const [i, s] of seconds(stored).entries()) expect(s).toBeCloseTo(seconds(rendered)[i]!, 6);
  let squares = 0;
  for (const [k, plane] of stored.planes.entries()) {
    for (const [i, code] of plane.entries()) squares += (code - rendered.planes[k]![i]!) ** 2;
  }
  return Math.sqrt(squares / (stored.planes.length * stored.planes[0]!.length));
}

describe('encoded clips', () => {
  it('lossless: the file holds exactly the rendered luma, frame by frame', async () => {
    expect(await rmsOfRoundTrip(shortScene('lossless'), { crf: 0, preset: 'ultrafast' })).toBe(0);
  });

  it('turned, stretched, tagged, full range: facts and luma come back', async () => {
    const scene = shortScene(
      'turned',
      { rotationDeg: [90] },
      { storedRateHz: 30, captureTag: true, range: 'full' },
    );
    expect(await rmsOfRoundTrip(scene, { crf: 0, preset: 'ultrafast' })).toBe(0);
    const { facts } = await openClip(join(folder, 'turned.mp4'));
    expect(facts).toMatchObject({
      codedWidth: 64,
      codedHeight: 96,
      orientation: { rotationDeg: 90, mirrored: false },
      captureRateTagHz: 240,
      range: 'full',
      transfer: 'bt709',
      declaredFrames: 60,
    });
    expect(facts.nominalRateHz).toBeCloseTo(30, 3);
  });

  it.each([180, 270] as const)('a turn by %i degrees comes back', async (rotationDeg) => {
    const scene = shortScene(`turned-${rotationDeg}`, { rotationDeg: [rotationDeg] }, { frames: 4 });
    const { clipPath } = await encodeClip(scene, folder);
    expect((await openClip(clipPath)).facts.orientation).toEqual({ rotationDeg, mirrored: false });
  });

  it('B-frames: presentation order and times are those of the scene', async () => {
    const options = { bFrames: 3, crf: 0, preset: 'medium' };
    expect(await rmsOfRoundTrip(shortScene('reordered', {}, { captureTag: true }), options)).toBe(0);
  });

  it('compressed: luma comes back to within a code value or so', async () => {
    const scene = shortScene('compressed', {}, { readNoise: 0, shotNoise: 0 });
    const rms = await rmsOfRoundTrip(scene, { crf: 14 });
    expect(rms).toBeGreaterThan(0);
    expect(rms).toBeLessThan(2);
  });

  it('dropped frames are gaps in the timestamps', async () => {
    const scene = shortScene('gaps', {}, { droppedFrames: [7, 8, 30] });
    expect(await rmsOfRoundTrip(scene, { crf: 0, preset: 'ultrafast' })).toBe(0);
    await expect(encodeClip(scene, folder, { bFrames: 2 })).rejects.toThrow(UsageError);
  });

  it('writes the truth beside the clip, and the same bytes twice', async () => {
    const scene = shortScene('twice', {}, { frames: 20 });
    const first = await encodeClip(scene, folder);
    const bytes = await readFile(first.clipPath);
    const stored = JSON.parse(await readFile(first.truthPath, 'utf8')) as typeof first.truth;
    expect(stored).toEqual(first.truth);
    expect(stored.clip!.bytes).toBe(bytes.length);
    expect((await openClip(first.clipPath)).facts.sha256).toBe(stored.clip!.sha256);
    const second = await encodeClip(scene, folder);
    expect((await readFile(second.clipPath)).equals(bytes)).toBe(true);
  });

  it('leaves nothing behind when aborted or when the name is no file name', async () => {
    const before = await readdir(folder);
    const stop = new AbortController();
    const reason = new Error('enough');
    const scene = shortScene('aborted', {}, { frames: 400 });
    const encoding = encodeClip(scene, folder, { signal: stop.signal, onProgress: () => stop.abort(reason) });
    await expect(encoding).rejects.toBe(reason);
    await expect(encodeClip({ ...scene, name: '../up' }, folder)).rejects.toThrow(/plain file name/);
    expect(await readdir(folder)).toEqual(before);
  });

  it('refuses to change what is no MP4', () => {
    expect(() => changeMovie(new Uint8Array(40), {})).toThrow(UsageError);
    expect(() => changeMovie(Uint8Array.from([0, 0, 0, 8, 102, 116, 121, 112]), {})).toThrow(/index/);
  });
});
