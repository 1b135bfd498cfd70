import { describe, expect, it } from 'vitest';
import { type CaptureClock, resolveCaptureClock } from '../../src/clip/captureClock.js';
import { UsageError } from '../../src/errors.js';

interface Case {
  readonly ticks: readonly number[];
  readonly perSecond?: number;
  readonly tagHz?: number;
  readonly statedHz?: number;
}

function resolve({ ticks, perSecond = 90_000, tagHz, statedHz }: Case) {
  return resolveCaptureClock({
    facts: { timeBase: [1, perSecond], captureRateTagHz: tagHz ?? null, editList: 'none' },
    ptsTicks: Float64Array.from(ticks),
    statedRateHz: statedHz ?? null,
  });
}

function known(evidence: Case): CaptureClock {
  const clock = resolve(evidence);
  if (!clock.known) throw new Error(`no clock: ${clock.reason}`);
  return clock;
}

/** Times of frames at `rateHz`, rounded to ticks; `dropped` frames are left out. */
function framesAt(
  rateHz: number,
  count: number,
  perSecond = 90_000,
  dropped: ReadonlySet<number> = new Set(),
) {
  const ticks: number[] = [];
  for (let i = 0; i < count; i++) if (!dropped.has(i)) ticks.push(Math.round((i * perSecond) / rateHz));
  return ticks;
}

/** Repeatable jitter in -1..1. */
const jitter = (i: number) => (((i * 7919 + 13) % 201) - 100) / 100;

describe('file seconds to camera seconds', () => {
  it.each<[string, number, Omit<Case, 'ticks'>, string, number, number, number]>([
    // what, file rate, evidence, source, scale, capture rate, number of warnings
    ['tag agrees: real time', 240, { tagHz: 240 }, 'tag', 1, 240, 0],
    ['tag of a stretch at 30', 30, { tagHz: 240 }, 'tag', 30 / 240, 240, 1],
    ['tag of a stretch at 29.97', 30_000 / 1001, { tagHz: 240 }, 'tag', 30_000 / 1001 / 240, 240, 1],
    ['tag of a stretch at 60', 60, { tagHz: 960 }, 'tag', 60 / 960, 960, 2], // and a word on bursts
    ['tag of a stretch, sensor 0.3 % slow', 30 * 0.997, { tagHz: 240 }, 'tag', 30 / 240, 240 * 0.997, 1],
    ['tag, unusual stored rate', 40, { tagHz: 240 }, 'tag', 40 / 240, 240, 1],
    ['tag below fast timestamps', 240, { tagHz: 120 }, 'timestamps', 1, 240, 1],
    ['no tag, fast', 240, {}, 'timestamps', 1, 240, 1],
    ['no tag, 60', 60, {}, 'timestamps', 1, 60, 1],
    ['stated agrees', 240, { statedHz: 240 }, 'stated', 1, 240, 0],
    ['stated agrees within 2 %', 237, { statedHz: 240 }, 'stated', 1, 237, 0],
    ['stated stretch at 30', 30, { statedHz: 240 }, 'stated', 30 / 240, 240, 1],
    ['stated against the tag', 30, { statedHz: 120, tagHz: 240 }, 'stated', 30 / 120, 120, 2],
    ['stated, stored at 24', 24, { statedHz: 120 }, 'stated', 24 / 120, 120, 1],
  ])('%s', (_, fileHz, evidence, source, scale, captureHz, warnings) => {
    const clock = known({ ticks: framesAt(fileHz, 480), ...evidence });
    expect(clock.source).toBe(source);
    expect(clock.scale).toBeCloseTo(scale, 12);
    expect(clock.captureRateHz / captureHz - 1).toBeCloseTo(0, 5);
    expect(clock.periodS).toBeCloseTo(1 / clock.captureRateHz, 12);
    expect(clock.warnings).toHaveLength(warnings);
    // Each time is the frame's own timestamp, scaled.
    const last = framesAt(fileHz, 480)[479]!;
    expect(clock.capturedAtS[0]).toBe(0);
    expect(clock.capturedAtS[479]).toBeCloseTo((last / 90_000) * scale, 9);
  });

  it.each<[string, number, number | undefined, RegExp]>([
    ['30 fps, nothing said', 30, undefined, /runs at 30 fps and does not say how fast .* --capture-rate/],
    ['24 fps, nothing said', 24, undefined, /--capture-rate/],
    [
      'tag between real time and stretch',
      200,
      240,
      /tag \(240 fps\) contradicts its timestamps \(200 fps\).*--capture-rate/,
    ],
    [
      'tag of twice the rate of fast times',
      120,
      240,
      /tag \(240 fps\) contradicts its timestamps \(120 fps\)/,
    ],
    ['tag of a stretch, thinned out', 15, 240, /tag \(240 fps\) contradicts its timestamps \(15 fps\)/],
    ['time-lapse tag', 30, 20, /contradicts.*--capture-rate/],
  ])('gives no clock: %s', (_, fileHz, tagHz, reason) => {
    const clock = resolve({ ticks: framesAt(fileHz, 200), ...(tagHz === undefined ? {} : { tagHz }) });
    expect(clock.known).toBe(false);
    if (clock.known) return;
    expect(clock.reason).toMatch(reason);
    expect(clock.mediaRateHz).toBeCloseTo(fileHz, 2);
  });

  it.each<[number, number, RegExp]>([
    [187, 240, /240 fps does not fit this clip: its frames are stored at 187(\.\d+)? fps/],
    [240, 120, /does not fit/],
    [30, 0, /from 10 to 100000, got 0/],
    [30, Number.NaN, /got NaN/],
    [30, -240, /got -240/],
    [30, 1e9, /got 1000000000/],
  ])('refuses, at %d fps in the file, the statement %d', (fileHz, statedHz, message) => {
    const call = () => resolve({ ticks: framesAt(fileHz, 200), statedHz });
    expect(call).toThrow(UsageError);
    expect(call).toThrow(message);
  });

  it.each<[string, readonly number[], RegExp]>([
    ['4 fps', framesAt(4, 100), /clock is damaged \(its frames come at 4 fps\).*unmodified original/],
    ['9000 fps', framesAt(9000, 100), /clock is damaged \(its frames come at 9000 fps\)/],
    ['a jump of ten days', [...framesAt(240, 50), 7.776e10], /clock is damaged \(its frames span 10 days\)/],
  ])('gives no clock at %s, whatever is stated', (_, ticks, reason) => {
    const clock = resolve({ ticks, statedHz: 240 });
    expect(clock.known).toBe(false);
    if (!clock.known) expect(clock.reason).toMatch(reason);
  });

  it.each([[[]], [[5]], [[7, 7, 7]], [[0, Number.NaN, 2]]])(
    'gives no clock without usable times: %j',
    (ticks) => {
      const clock = resolve({ ticks, statedHz: 240 });
      expect(clock).toMatchObject({ known: false });
      if (!clock.known) expect(clock.reason).toMatch(/no usable times/);
    },
  );
});

describe('the grid behind the times', () => {
  it.each([0.1, 0.25, 0.35])('is not misled by frames that come unevenly (up to %d of a period)', (share) => {
    const ticks = framesAt(240, 480).map((tick, i) => tick + Math.round(375 * share * jitter(i)));
    const clock = known({ ticks });
    expect(clock.captureRateHz / 240).toBeCloseTo(1, 3);
    expect(clock.droppedFrames).toBe(0);
    expect(clock.remarks.map(({ code }) => code).includes('uneven-times')).toBe(share * 0.58 > 0.05);
    // Each frame keeps its own time.
    expect(clock.capturedAtS[100]).toBeCloseTo((ticks[100]! - ticks[0]!) / 90_000, 9);
  });

  it('counts dropped frames, and is not pulled down by them', () => {
    const dropped = new Set([50, 51, 200, 333]);
    const clock = known({ ticks: framesAt(30, 480, 90_000, dropped), tagHz: 240 });
    expect(clock.scale).toBe(30 / 240);
    expect(clock.captureRateHz).toBe(240);
    expect(clock.droppedFrames).toBe(4);
    const gaps = [...clock.missingBefore].flatMap((n, frame) => (n > 0 ? [[frame, n]] : []));
    expect(gaps).toEqual([
      [50, 2],
      [198, 1],
      [330, 1],
    ]);
    expect(clock.warnings.join(' ')).toMatch(/4 camera frames are missing in 3 gaps \(0\.8 %\)/);
  });

  it.each<[number, number]>([
    [240, 600],
    [480, 600],
    [240, 1000],
    [120, 600],
    [960, 2400],
  ])(
    'finds %d Hz on a clock of %d Hz, and takes the even grid instead of the rounded times',
    (rateHz, perSecond) => {
      const dropped = new Set([100, 301]);
      const ticks = framesAt(rateHz, 600, perSecond, dropped);
      const clock = known({ ticks, perSecond });
      expect(Math.abs(clock.captureRateHz / rateHz - 1)).toBeLessThan(2e-4);
      expect(clock.warnings.join(' ')).toMatch(/rounds its times to .* ms; they fit an even grid/);
      const truth = Array.from({ length: 600 }, (_, i) => i).filter((i) => !dropped.has(i));
      // The first frame's own rounding is taken out with it: compare differences from the middle.
      const offset = clock.capturedAtS[300]! - truth[300]! / rateHz;
      const worst = Math.max(...truth.map((i, k) => Math.abs(clock.capturedAtS[k]! - i / rateHz - offset)));
      expect(worst).toBeLessThan(0.06 / perSecond);
      expect(worst).toBeLessThan(clock.tickS);
    },
  );

  it('says when the ticks are too coarse to tell the rate', () => {
    // 960 Hz on 1 ms ticks looks like 1000 Hz with a frame missing every 25: nothing in the file decides.
    expect(known({ ticks: framesAt(960, 600, 1000), perSecond: 1000 }).warnings.join(' ')).toMatch(
      /ticks hardly faster than its frames come/,
    );
  });

  it('keeps rounded times where they hide more than an even grid', () => {
    const ticks = framesAt(240, 600, 600).map((tick, i) => tick + (i > 250 && i < 300 ? 3 : 0));
    const clock = known({ ticks, perSecond: 600 });
    expect(clock.warnings.join(' ')).toMatch(/limits every reading/);
    expect(clock.capturedAtS[599]).toBeCloseTo(ticks[599]! / 600, 12);
    expect(clock.tickS).toBeCloseTo(1 / 600, 9);
  });

  it('keeps real jitter: each frame its own time', () => {
    const ticks = framesAt(240, 480).map((tick, i) => tick + Math.round(40 * jitter(i)));
    const clock = known({ ticks, tagHz: 240 });
    ticks.forEach((tick, i) => {
      expect(clock.capturedAtS[i]).toBeCloseTo((tick - ticks[0]!) / 90_000, 12);
    });
    const rms = Math.sqrt(ticks.reduce((sum, tick, i) => sum + (tick - i * 375) ** 2, 0) / 480) / 90_000;
    expect(clock.irregularityS).toBeCloseTo(rms, 5);
    expect(clock.droppedFrames).toBe(0);
  });

  it('sees a coarse clock behind a fine time base', () => {
    // 1 ms times converted to 90 kHz: every value is a multiple of 90.
    const ticks = framesAt(240, 480, 1000).map((tick) => tick * 90);
    const clock = known({ ticks });
    expect(clock.warnings.join(' ')).toMatch(/rounds its times to 1\.00 ms/);
    expect(clock.captureRateHz).toBeCloseTo(240, 1);
  });

  it('names a pause, and measures the rate without it', () => {
    const ticks = framesAt(240, 480).map((tick, i) => tick + (i >= 200 ? 90_000 * 3 + 17 : 0));
    const clock = known({ ticks });
    expect(clock.captureRateHz).toBe(240);
    expect(clock.droppedFrames).toBe(0);
    expect(clock.missingBefore[200]).toBe(720);
    expect(clock.warnings.join(' ')).toMatch(/pauses 1 times \(before frame 200\)/);
  });

  it('names times that do not go forward', () => {
    const ticks = framesAt(240, 480);
    ticks[100] = ticks[99]!;
    expect(known({ ticks }).warnings.join(' ')).toMatch(/1 frames have a time that is not after/);
  });

  it('carries the 0.1 ms of Android’s muxer, divided by the stretch', () => {
    expect(known({ ticks: framesAt(30, 480), tagHz: 240 }).tickS).toBeCloseTo(1e-4 / 8, 12);
    expect(known({ ticks: framesAt(240, 480) }).tickS).toBeCloseTo(1 / 90_000, 12);
  });
});
