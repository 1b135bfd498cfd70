import { describe, expect, it } from 'vitest';
import { resolveCaptureClock } from '../../src/clip/captureClock.js';
import { judgePictures, type PatchSeries } from '../../src/clip/pictureCadence.js';
import { UsageError } from '../../src/errors.js';

const FRAMES = 480;
const CELLS = 64;

/** Repeatable values in -1..1. */
function randomSource(seed: number): () => number {
  let state = seed;
  return () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return state / 2 ** 31 - 1;
  };
}

interface Filmed {
  readonly seed?: number;
  readonly noise?: number;
  /** Edges of the LED, in captures; default uneven. */
  readonly edges?: readonly number[];
  /** What the screen shows in each capture, 0..1. */
  readonly screen?: (capture: number) => number;
}

const unevenEdges = Array.from({ length: 20 }, (_, k) => 11.3 + 22.37 * k + 3 * Math.sin(k));

/** Codes of LED and screen, a row of cells each, one entry a capture. */
function film({ seed = 3, noise = 0, edges = unevenEdges, screen = () => 0 }: Filmed): number[][][] {
  const random = randomSource(seed);
  return Array.from({ length: FRAMES }, (_, k) => {
    // Even exposures: the share of the frame that is lit.
    const lit = edges.reduce((sum, atS, i) => {
      const share = Math.min(1, Math.max(0, k + 1 - atS));
      return sum + (i % 2 === 0 ? share : -share);
    }, 0);
    return [40 + 140 * lit, 60 + 100 * screen(k)].map((level) =>
      Array.from({ length: CELLS }, () => level + noise * (random() + random())),
    );
  });
}

const double = (pictures: number[][][]) => pictures.map((_, k) => pictures[k - (k % 2)]!);
const blend = (pictures: number[][][]) =>
  pictures.map((picture, k) =>
    k % 2 === 0 || k === FRAMES - 1
      ? picture
      : picture.map((row, r) => row.map((_, c) => (pictures[k - 1]![r]![c]! + pictures[k + 1]![r]![c]!) / 2)),
  );

function patchesOf(pictures: number[][][]): PatchSeries[] {
  return ['led', 'screen'].map((role, r) => ({
    region: { role },
    rows: 1,
    columns: CELLS,
    cellPx: 1,
    // Light is about the square of the code.
    light: Uint16Array.from(
      pictures.flatMap((picture) => picture[r]!.map((code) => Math.round(50_000 * (code / 219) ** 2))),
    ),
  }));
}

const judge = (pictures: number[][][], reordered = false) =>
  judgePictures(patchesOf(pictures), FRAMES, reordered);

describe('pictures that are no captures', () => {
  it.each([
    ['by their noise', { noise: 2 }],
    ['by the LED alone, where compression took the noise', {}],
  ])('every picture twice, %s', (_, how) => {
    const verdict = judge(double(film(how)));
    expect(verdict).toMatchObject({ kind: 'copies', every: 2, madeFrames: FRAMES / 2 });
    expect([...verdict.made.subarray(0, 4)]).toEqual([0, 1, 0, 1]);
  });

  it('a few repeated pictures', () => {
    const pictures = film({ noise: 2 });
    for (let k = 30; k < FRAMES; k += 50) pictures[k] = pictures[k - 1]!;
    const verdict = judge(pictures);
    expect(verdict).toMatchObject({ kind: 'copies', every: 1, madeFrames: 9 });
    expect(verdict.made[80]).toBe(1);
  });

  it.each([0, 2])('every second picture blended, noise %d', (noise) => {
    const verdict = judge(blend(film({ noise })));
    expect(verdict).toMatchObject({ kind: 'blends', every: 2 });
    expect([...verdict.made.subarray(0, 4)]).toEqual([0, 1, 0, 1]);
  });

  it('blends are not judged where the codec makes pictures from later ones', () => {
    expect(judge(blend(film({ noise: 2 })), true).kind).toBe('genuine');
  });

  it('noise that beats without an edge to prove it is said, not used', () => {
    const verdict = judge(blend(film({ noise: 2, edges: [] })));
    expect(verdict).toMatchObject({ kind: 'maybe-blends', madeFrames: 0, every: 1 });
  });
});

describe('genuine pictures are not taken for copies', () => {
  it.each<[string, Filmed]>([
    ['noise', { noise: 2 }],
    ['no noise', {}],
    [
      'a display that changes every second frame',
      { screen: (k) => ((k >> 1) % 7 === 0 ? 1 : 0.1 * ((k >> 1) % 5)) },
    ],
    ['a display that changes every fourth frame', { screen: (k) => 0.1 * ((k >> 2) % 9) }],
    ['a display that pulses in every fourth frame', { noise: 2, screen: (k) => (k % 4 === 0 ? 1 : 0) }],
    ['lamp ripple on the screen', { noise: 1, screen: (k) => 0.3 + 0.2 * Math.sin(k * 2.6) }],
    ['few edges, all on one beat', { edges: [20, 64, 120, 180] }],
    ['nothing happening', { edges: [] }],
  ])('%s', (_, how) => {
    for (const seed of [1, 2, 3, 4, 5]) expect(judge(film({ ...how, seed })).kind).toBe('genuine');
  });

  it('a codec that spends no bits on the noise of a third of the frames', () => {
    for (const seed of [1, 2, 3, 4, 5]) {
      const pictures = film({ noise: 2, seed });
      const edges = film({ seed });
      const random = randomSource(seed + 50);
      for (let k = 1; k < FRAMES; k++) {
        // The light goes on; only the grain stays that of the frame before.
        if (random() < -1 / 3) {
          pictures[k] = pictures[k]!.map((row, r) =>
            row.map((_, c) => edges[k]![r]![c]! + pictures[k - 1]![r]![c]! - edges[k - 1]![r]![c]!),
          );
        }
      }
      expect(judge(pictures).kind).toBe('genuine');
    }
  });
});

describe('the clock without made pictures', () => {
  const made = Uint8Array.from({ length: FRAMES }, (_, k) => k % 2);
  const pictures = { kind: 'copies', made, madeFrames: FRAMES / 2, every: 2 } as const;
  const clockAt = (fileHz: number, tagHz: number | null, statedRateHz: number | null) =>
    resolveCaptureClock({
      facts: { timeBase: [1, 90_000], captureRateTagHz: tagHz, editList: 'none' },
      ptsTicks: Float64Array.from({ length: FRAMES }, (_, k) => Math.round((k * 90_000) / fileHz)),
      statedRateHz,
      pictures,
    });

  it.each<[number, number | null, number | null, number, number, RegExp | null]>([
    // file, tag, stated, scale, true rate, warning
    [240, 240, null, 1, 120, null],
    [30, 240, null, 1 / 8, 120, null],
    [240, null, 240, 1, 120, null],
    [240, null, 120, 1, 120, null],
    [60, null, 240, 1 / 4, 120, /240 fps are taken as the rate of all pictures.*state --capture-rate 480/],
  ])('file %d, tag %j, stated %j', (fileHz, tagHz, statedHz, scale, trueHz, warning) => {
    const clock = clockAt(fileHz, tagHz, statedHz);
    if (!clock.known) throw new Error(clock.reason);
    expect(clock.scale).toBeCloseTo(scale, 9);
    expect(clock.captureRateHz).toBeCloseTo(trueHz, 6);
    expect(clock.madeFrames).toBe(FRAMES / 2);
    expect(clock.capturedAtS).toHaveLength(FRAMES / 2);
    expect(clock.capturedAtS[100]).toBeCloseTo(100 / trueHz, 4);
    expect([...clock.missingBefore].every((n) => n === 0)).toBe(true);
    expect(clock.warnings.join('\n')).toMatch(/copies are left out, so the true rate is 120 fps/);
    if (warning) expect(clock.warnings.join('\n')).toMatch(warning);
  });

  it.each([240, 60, 30])('asks at %d fps without a tag: somebody made this file from another', (fileHz) => {
    const clock = clockAt(fileHz, null, null);
    expect(clock).toMatchObject({ known: false });
    if (!clock.known) expect(clock.reason).toMatch(/only every second picture .*--capture-rate/);
  });

  it('refuses a rate that fits neither the pictures nor the captures', () => {
    expect(() => clockAt(240, null, 180)).toThrow(UsageError);
  });
});
