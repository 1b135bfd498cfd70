/**
 * What must not matter to a latency: when a clip begins, how bright it is, how it is turned, cut or coded, and in which
 * order its regions stand. Properties over seeded random scenes; each change is made to the pixels or samples of a clip
 * that was measured without it.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { runFfmpeg } from '../../src/clip/ffmpeg.js';
import type { FrameSource, FrameTimes, LumaPlane } from '../../src/clip/frameSource.js';
import { openClip } from '../../src/clip/openClip.js';
import { measureClip, measureSamples } from '../../src/measure.js';
import { simulateFile } from '../../src/node.js';
import type { Recipe } from '../../src/record/recipe.js';
import type { ClipRecord } from '../../src/record/record.js';
import { sampleClip } from '../../src/samples/sampleClip.js';
import type { ClipSamples } from '../../src/samples/samples.js';
import { type FilmedScene, filmScene } from '../filmedScene.js';

/** Differences that rounding of the same numbers in another order may make, ms. */
const SAME_MS = 1e-6;
/** Share of its own standard uncertainty by which a latency may move where the pixels themselves change a little. */
const SMALL_SHARE = 0.5;
/** What coarse H.264 (CRF 26) may do, camera frames: faint first frames are coded away. Seen: 0.10 on average. */
const COARSE_FRAMES = 0.25;
const SEED = 20_240;

const films: FilmedScene[] = [];
const names = ['flash', 'toggle', 'sprite'] as const;
const folder = mkdtempSync(join(tmpdir(), 'lagreel-invariants-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

beforeAll(async () => {
  for (const [k, content] of names.entries()) {
    const options = { content: [content], display: ['panel'] as const, flickerShare: 0 };
    films.push(await filmScene(5100 + k, options as Parameters<typeof filmScene>[1]));
  }
});

interface Latency {
  readonly region: string;
  readonly ms: number;
  readonly sdMs: number;
}

function latenciesOf(record: ClipRecord, region = 'top'): Latency[] {
  return record.presses.flatMap((press) =>
    press.responses.flatMap(({ region: name, latencyMs, uncertaintyMs }) =>
      name === region && latencyMs !== undefined ? [{ region, ms: latencyMs, sdMs: uncertaintyMs! }] : [],
    ),
  );
}

function measured(
  film: FilmedScene,
  change: { samples?: ClipSamples; times?: FrameTimes; recipe?: Recipe } = {},
) {
  const { samples, times, recipe } = { ...film, ...change };
  return measureSamples(samples, times, film.facts, recipe).record;
}

function expectAlike(
  now: readonly Latency[],
  before: readonly Latency[],
  allowedMs: (sdMs: number) => number,
): void {
  expect(before.length).toBeGreaterThan(2);
  expect(now).toHaveLength(before.length);
  now.forEach(({ ms }, i) => {
    expect(Math.abs(ms - before[i]!.ms), `press ${i + 1}`).toBeLessThanOrEqual(allowedMs(before[i]!.sdMs));
  });
}

const same = () => SAME_MS;
const small = (sdMs: number) => SMALL_SHARE * sdMs;
const anyFilm = fc.constantFrom(0, 1, 2);
const check = (property: fc.IProperty<never> | unknown, numRuns: number) =>
  fc.assert(property as fc.IProperty<unknown>, { seed: SEED, numRuns });

function withLight(samples: ClipSamples, change: (light: number, region: number) => number): ClipSamples {
  const regions = samples.regions.map((r, k) => ({
    ...r,
    light: r.light.map((light) => Math.max(0, Math.min(65_535, Math.round(change(light, k))))),
  }));
  return { ...samples, regions };
}

/** Frames `from` to before `to` of a sampled clip. */
function part(film: FilmedScene, from: number, to: number) {
  const regions = film.samples.regions.map((r) => {
    const cells = r.rows * r.columns;
    return { ...r, light: r.light.slice(from * cells, to * cells) };
  });
  const frameChange = film.samples.frameChange.slice(from, to);
  frameChange[0] = 0;
  const times = { ...film.times, ptsTicks: film.times.ptsTicks.slice(from, to) };
  return { samples: { frames: to - from, regions, frameChange }, times };
}

/** Another picture of the same pixels: `cut` makes each plane of a rectangle that `from` maps back. */
function pixelsOf(
  source: FrameSource,
  size: { width: number; height: number },
  from: (rect: { x: number; y: number; width: number; height: number }) => {
    x: number;
    y: number;
    width: number;
    height: number;
  },
  turn: (plane: LumaPlane, width: number, height: number) => LumaPlane,
): FrameSource {
  return {
    ...source,
    facts: { ...source.facts, codedWidth: size.width, codedHeight: size.height },
    readRects: (rects, onFrame, options) =>
      source.readRects(
        rects.map(from),
        (index, planes) =>
          onFrame(
            index,
            planes.map((plane, k) => turn(plane, rects[k]!.width, rects[k]!.height)),
          ),
        options,
      ),
  };
}

describe('time', () => {
  it('a shift of all timestamps changes no latency', () => {
    const shift = fc.integer({ min: -(2 ** 40), max: 2 ** 40 });
    check(
      fc.property(anyFilm, shift, (k, ticks) => {
        const film = films[k]!;
        const times = { ...film.times, ptsTicks: film.times.ptsTicks.map((tick) => tick + ticks) };
        expectAlike(latenciesOf(measured(film, { times })), latenciesOf(measured(film)), same);
      }),
      12,
    );
  });

  it('a clip split in two between presses gives the presses of the whole', () => {
    check(
      fc.property(
        anyFilm,
        fc.constantFrom(1, 2, 3),
        fc.double({ min: 0.2, max: 0.8, noNaN: true }),
        (k, press, share) => {
          const film = films[k]!;
          const whole = measured(film);
          const before = whole.presses[press - 1]!.responses[0]!.settledS!;
          const after = whole.presses[press]!.ledOnsetS;
          const cut = Math.round(
            (before + (after - before) * (0.4 + 0.4 * share)) * whole.timing.captureRateHz,
          );
          const halves = [part(film, 0, cut), part(film, cut, film.samples.frames)];
          const parts = halves.flatMap((half) =>
            half.samples.frames > 60 ? [latenciesOf(measured(film, half))] : [],
          );
          const now = parts.flat();
          // What is learned from few presses is less sure (plateaus, the shape of the change): a full uncertainty.
          expectAlike(now, latenciesOf(whole), (sdMs) => sdMs);
        },
      ),
      9,
    );
  });
});

describe('light', () => {
  it('a brighter or darker clip, and one with a veil of stray light, gives the same latencies', () => {
    const gain = fc.double({ min: 0.5, max: 1.25, noNaN: true });
    const veil = fc.integer({ min: 0, max: 3000 });
    check(
      fc.property(anyFilm, gain, veil, (k, a, b) => {
        const film = films[k]!;
        const samples = withLight(film.samples, (light) => a * light + b);
        expectAlike(latenciesOf(measured(film, { samples })), latenciesOf(measured(film)), small);
      }),
      12,
    );
  });

  it('a gain of its own for LED and screen does not matter either', () => {
    const gain = fc.double({ min: 0.5, max: 1.25, noNaN: true });
    check(
      fc.property(anyFilm, gain, gain, (k, a, b) => {
        const film = films[k]!;
        const samples = withLight(film.samples, (light, region) => (region === 0 ? a : b) * light);
        expectAlike(latenciesOf(measured(film, { samples })), latenciesOf(measured(film)), small);
      }),
      12,
    );
  });
});

describe('picture', () => {
  it.each(names)('a mirrored clip: %s', async (name) => {
    const film = films[names.indexOf(name)]!;
    const { codedWidth: width, codedHeight: height } = film.facts;
    const mirror = <T extends { x: number; width: number }>(r: T): T => ({ ...r, x: width - r.x - r.width });
    const source = pixelsOf(film.source, { width, height }, mirror, (plane, w, h) => {
      const turned = plane.slice();
      for (let y = 0; y < h; y++) turned.subarray(y * w, (y + 1) * w).reverse();
      return turned;
    });
    const regions = film.recipe.regions.map(mirror);
    const { samples, times } = await sampleClip(source, regions);
    const now = measured(film, { samples, times, recipe: { ...film.recipe, regions } });
    // Cells of the grid may hold other pixels where the width is no multiple of the cell.
    expectAlike(latenciesOf(now), latenciesOf(measured(film)), small);
  });

  it.each(names)('a cropped clip: %s', async (name) => {
    const film = films[names.indexOf(name)]!;
    const [left, top, right, bottom] = [4, 6, 6, 10];
    const width = film.facts.codedWidth - left - right;
    const height = film.facts.codedHeight - top - bottom;
    const back = <T extends { x: number; y: number }>(r: T): T => ({ ...r, x: r.x + left, y: r.y + top });
    const source = pixelsOf(film.source, { width, height }, back, (plane) => plane);
    const regions = film.recipe.regions.map((r) => ({ ...r, x: r.x - left, y: r.y - top }));
    // The rows that are left take their part of the readout.
    const readoutFraction = (film.recipe.capture.readoutFraction! * height) / film.facts.codedHeight;
    const capture = { ...film.recipe.capture, readoutFraction };
    const { record } = await measureClip(source, { ...film.recipe, regions, capture });
    expectAlike(latenciesOf(record), latenciesOf(measured(film)), small);
  });

  it.each(names)('re-encoded at high quality: %s', async (name) => {
    const film = films[names.indexOf(name)]!;
    const before = latenciesOf(measured(film));
    await simulateFile({ ...film.scene, name }, folder, { crf: 12 });
    const first = join(folder, `${name}.mp4`);
    const second = join(folder, `${name}-again.mp4`);
    const again = ['-c:v', 'libx264', '-crf', '12', '-pix_fmt', 'yuv420p', '-video_track_timescale', '90000'];
    const { exitCode, messages } = await runFfmpeg({
      args: ['-y', '-i', first, ...again, second],
      onOutput: [],
    });
    expect(exitCode, messages).toBe(0);
    for (const path of [first, second]) {
      const now = latenciesOf((await measureClip(await openClip(path), film.recipe)).record);
      // The interval of 95 % that is reported for the coded clip, which counts what coding did.
      expectAlike(before, now, (sdMs) => 2 * sdMs);
    }
  });

  it.each(names)('encoded coarsely: %s', async (name) => {
    const film = films[names.indexOf(name)]!;
    await simulateFile({ ...film.scene, name: `${name}-coarse` }, folder, { crf: 26 });
    const now = latenciesOf(
      (await measureClip(await openClip(join(folder, `${name}-coarse.mp4`)), film.recipe)).record,
    );
    expectAlike(now, latenciesOf(measured(film)), () => COARSE_FRAMES * film.periodMs);
  });
});

describe('regions', () => {
  it('their order and their names change nothing', async () => {
    const film = films[0]!;
    const screen = film.recipe.regions[1]!;
    const half = Math.floor(screen.height / 2);
    const regions = [
      film.recipe.regions[0]!,
      { ...screen, name: 'upper', height: half },
      { ...screen, name: 'lower', y: screen.y + half, height: screen.height - half },
    ];
    const sampled = await sampleClip(film.source, regions);
    const inOrder = (order: readonly number[]) =>
      measured(film, {
        samples: { ...sampled.samples, regions: order.map((k) => sampled.samples.regions[k]!) },
        recipe: { ...film.recipe, regions: order.map((k) => regions[k]!) },
      });
    const first = inOrder([0, 1, 2]);
    for (const order of [
      [0, 2, 1],
      [1, 0, 2],
      [2, 1, 0],
      [1, 2, 0],
    ]) {
      const now = inOrder(order);
      for (const name of ['upper', 'lower'])
        expectAlike(latenciesOf(now, name), latenciesOf(first, name), same);
    }
  });

  // The tool takes the region with the role `led` for the cause and looks for the other's change in its window; a window
  // before the press is allowed. What flashes is the screen, so that its light goes on and off as an LED's does. The level
  // is the default of 10 %, near which the LED's own onset is read; at 50 % the screen's slow rise would count once only.
  it('swapping LED and screen turns the sign', () => {
    const film = films[0]!;
    const [led, screen] = film.recipe.regions as [Recipe['regions'][number], Recipe['regions'][number]];
    const regions = [
      { ...led, role: 'screen' as const, name: 'top' },
      { ...screen, role: 'led' as const, name: 'led' },
    ];
    const [ledSamples, screenSamples] = film.samples.regions;
    const samples = {
      ...film.samples,
      regions: [
        { ...ledSamples!, region: regions[0]! },
        { ...screenSamples!, region: regions[1]! },
      ],
    };
    const recipe = { ...film.recipe, regions, response: { level: 0.1, windowMs: [-200, 0] as const } };
    const there = latenciesOf(
      measured(film, { recipe: { ...film.recipe, response: { level: 0.1, windowMs: [0, 200] } } }),
    );
    const back = latenciesOf(measured(film, { samples, recipe }));
    expect(back.length).toBe(there.length);
    back.forEach(({ ms, sdMs }, i) => {
      expect(Math.abs(ms + there[i]!.ms)).toBeLessThan(3 * Math.hypot(sdMs, there[i]!.sdMs));
    });
  });
});
