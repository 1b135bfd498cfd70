/** The annotated film against the record, frame by frame, read back from the decoded film; and how the command behaves. */
import { existsSync, mkdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import sharp from 'sharp';
import { beforeAll, describe, expect, it } from 'vitest';
import { openClip } from '../../src/clip/openClip.js';
import { readPictures } from '../../src/clip/readPictures.js';
import type { ClipRecord } from '../../src/record/record.js';
import { type Box, filmLayout, pictureSize } from '../../src/report/annotated/filmLayout.js';
import { countFlashes } from '../../src/report/annotated/flashes.js';
import { counterGlyphs, type Glyph } from '../../src/report/pictures/filmPainter.js';
import {
  EXPOSURE,
  encodeNumberedPresses,
  HEIGHT_PX,
  LED,
  LOST,
  numberIn,
  PRESSES,
  RATE_HZ,
  SCREEN,
  WIDTH_PX,
} from './numberedPresses.js';
import { copySample, descendants, isAlive, lagreel, listing, scratch } from './program.js';

const READOUT = 0.5;
const folder = scratch();
const clip = join(folder, 'bench clip.mp4');
const film = join(folder, 'all presses.mp4');
let record: ClipRecord;

const size = pictureSize(WIDTH_PX, HEIGHT_PX, 'film');
const layout = filmLayout(size.width, size.height);
const scale = size.width / WIDTH_PX;

beforeAll(async () => {
  await encodeNumberedPresses(clip);
  const region = (name: string, role: string, r: Box) => [
    '--region',
    `${name}=${role}:${r.x},${r.y},${r.width},${r.height}`,
  ];
  const ended = await lagreel([
    'measure',
    clip,
    ...region('led', 'led', LED),
    ...region('top', 'screen', SCREEN),
    ...['--exposure', String(EXPOSURE), '--readout', String(READOUT), '--label', 'chain=Birch', '--quiet'],
  ]);
  expect(ended.code, ended.err).toBe(0);
  record = JSON.parse(readFileSync(join(folder, 'bench clip.record.json'), 'utf8'));
});

/** Brightness of a pixel, 0..255: the green. */
const green = (rgb: Uint8Array, x: number, y: number): number => rgb[3 * (y * layout.width + x) + 1]!;

/** The counter's text by comparing each cell with every glyph; `?` where none is like it. */
function readCounter(rgb: Uint8Array, glyphs: ReadonlyMap<string, Glyph>): string {
  return layout.counter.cells
    .map((cell) => {
      const inks: number[] = [];
      for (let y = 0; y < cell.height; y++)
        for (let x = 0; x < cell.width; x++)
          inks.push(green(rgb, cell.x + x, layout.panel.y + cell.y + y) / 255);
      if (Math.max(...inks) < 0.4) return ' ';
      let best = { character: '?', miss: 0.05 };
      for (const [character, glyph] of glyphs) {
        if (glyph.width !== cell.width) continue;
        const miss =
          inks.reduce((s, ink, i) => s + (ink - 0.06 - (0.86 * glyph.coverage[i]!) / 255) ** 2, 0) /
          inks.length;
        if (miss < best.miss) best = { character, miss };
      }
      return best.character;
    })
    .join('');
}

/** Mean brightness along the four sides of a rectangle of the clip, drawn `outsidePx` film px outside it. */
function sides(rgb: Uint8Array, r: Box, outsidePx: number): number[][] {
  const left = Math.round(r.x * scale - outsidePx);
  const right = Math.round((r.x + r.width) * scale + outsidePx) - 1;
  const top = Math.round(r.y * scale - outsidePx);
  const bottom = Math.round((r.y + r.height) * scale + outsidePx) - 1;
  const run = (from: number, to: number, at: (v: number) => number) =>
    Array.from({ length: to - from - 3 }, (_, i) => at(from + 2 + i));
  return [
    run(left, right, (x) => green(rgb, x, top)),
    run(left, right, (x) => green(rgb, x, bottom)),
    run(top, bottom, (y) => green(rgb, left, y)),
    run(top, bottom, (y) => green(rgb, right, y)),
  ];
}

/** Rightmost column of a trace's row that is drawn on, px; null where nothing is. */
function drawnTo(rgb: Uint8Array, row: Box): number | null {
  for (let x = row.x + row.width - 2; x > row.x + 120; x--) {
    for (let y = row.y + 4; y < row.y + row.height - 4; y++) {
      const at = 3 * ((layout.panel.y + y) * layout.width + x);
      // The LED's trace is amber: red well above the panel's card.
      if (rgb[at]! > 150) return x;
    }
  }
  return null;
}

describe('the film of all presses', () => {
  let shown: { number: number; counter: string; rgb: Uint8Array }[];
  let made: { rateHz: number; pictures: number; flashesPerS: number; widthPx: number; heightPx: number };

  beforeAll(async () => {
    const ended = await lagreel(['annotate', clip, '--all', '-o', film, '--json']);
    expect(ended.code, ended.err).toBe(0);
    expect(ended.said).toEqual([]);
    made = JSON.parse(ended.out);
    const source = await openClip(film);
    const glyphs = await counterGlyphs(layout);
    shown = [];
    const request = {
      runs: [[0, made.pictures - 1]] as const,
      width: layout.width,
      height: layout.height,
      scaling: 'sharp' as const,
    };
    for await (const rgb of readPictures(film, source.facts, request)) {
      const number = numberIn(rgb, layout.width, scale);
      const counter = readCounter(rgb, glyphs);
      // One picture of each camera frame is kept; all are read.
      const known = shown.at(-1)?.number === number && shown.at(-1)?.counter === counter;
      shown.push({ number, counter, rgb: known ? shown.at(-1)!.rgb : rgb });
    }
  });

  /** What the counter must say, ms: from the record, the frame's number and the camera alone. */
  const counterOf = (number: number): number => {
    const rowS = (READOUT * (SCREEN.y + SCREEN.height / 2)) / HEIGHT_PX / RATE_HZ;
    const middleS = number / RATE_HZ + rowS + EXPOSURE / 2 / RATE_HZ;
    // The press of a frame: the next one, from 60 ms before it on.
    const press = record.presses.filter((p) => p.ledOnsetS - 0.06 <= middleS + 1e-9).at(-1)!;
    return (middleS - press.ledOnsetS) * 1000;
  };

  it('the record is right about the clip, so that the film can be', () => {
    expect(record.presses).toHaveLength(PRESSES.length);
    for (const [i, press] of record.presses.entries())
      expect(Math.abs(press.responses[0]!.latencyMs! - PRESSES[i]![1])).toBeLessThan(0.6);
  });
  it('has the size, rate and length that it says', () => {
    expect([made.widthPx, made.heightPx]).toEqual([layout.width, layout.height]);
    expect(made.rateHz).toBeCloseTo(30, 6);
    expect(shown).toHaveLength(made.pictures);
  });
  it('every picture: the counter is that of the camera frame under it', () => {
    for (const [i, { number, counter }] of shown.entries()) {
      const said = `picture ${i}, camera frame ${number}, counter "${counter}", should be ${counterOf(number)}`;
      expect(counter, said).toMatch(/^ *-?\d+\.\d$/);
      // Half of the last digit, and the rounding of times in the record.
      expect(Math.abs(Number(counter) - counterOf(number)), said).toBeLessThan(0.0502);
    }
  });
  it('every camera frame around a press is there, in order; lost ones are sat through', () => {
    const runs: { number: number; pictures: number }[] = [];
    for (const { number } of shown) {
      if (runs.at(-1)?.number === number) runs.at(-1)!.pictures++;
      else runs.push({ number, pictures: 1 });
    }
    for (let i = 1; i < runs.length; i++) {
      const step = runs[i]!.number - runs[i - 1]!.number;
      const lost = LOST.filter((k) => k > runs[i - 1]!.number && k < runs[i]!.number).length;
      const newPress = step > 20;
      if (!newPress) expect(step).toBe(1 + lost);
    }
    const beforeLost = runs.find((r) => r.number === LOST[0]! - 1)!;
    expect(beforeLost.pictures).toBe(2);
  });
  it('stands still at the first frame whose middle is not before the response', () => {
    const count = new Map<number, number>();
    for (const { number } of shown) count.set(number, (count.get(number) ?? 0) + 1);
    for (const press of record.presses) {
      const response = press.responses[0]!;
      const rowS = (READOUT * (SCREEN.y + SCREEN.height / 2)) / HEIGHT_PX / RATE_HZ;
      let frame = Math.ceil((response.onsetS! - rowS - EXPOSURE / 2 / RATE_HZ) * RATE_HZ);
      while (LOST.includes(frame)) frame++;
      // 1.5 s at 30 pictures a second, and the frame's own picture.
      expect(count.get(frame), `press ${press.index}, frame ${frame}`).toBe(46);
    }
  });
  it('the outlines stand where the record has its regions, in every picture', () => {
    const seen = new Set<Uint8Array>();
    for (const { rgb } of shown) {
      if (seen.has(rgb)) continue;
      seen.add(rgb);
      for (const side of sides(rgb, LED, 2)) {
        const sorted = [...side].sort((a, b) => a - b);
        // Solid: bright all along.
        expect(sorted[Math.floor(side.length * 0.1)]!).toBeGreaterThan(110);
      }
      for (const side of sides(rgb, SCREEN, 2)) {
        const bright = side.filter((v) => v > 140).length / side.length;
        expect(bright).toBeGreaterThan(0.4);
        expect(bright).toBeLessThan(0.9);
        expect(Math.min(...side)).toBeLessThan(100);
      }
      // Six px further out nothing is drawn: the check can fail.
      for (const side of sides(rgb, LED, 8))
        expect(side.filter((v) => v > 110).length / side.length).toBeLessThan(0.9);
    }
    expect(seen.size).toBeGreaterThan(150);
  });
  it('the trace grows with the camera frames, and no further', () => {
    const row = layout.rows[0];
    const scenes = [shown.filter((s) => Number(s.counter) < 200).slice(0, 40)];
    let last = 0;
    for (const { rgb, counter } of scenes[0]!) {
      const x = drawnTo(rgb, row);
      if (Number(counter) < 0 || x === null) continue;
      expect(x).toBeGreaterThanOrEqual(last);
      last = x;
    }
    expect(last).toBeGreaterThan(row.x + row.width * 0.3);
    const atFreeze = shown.findIndex((s) => Number(s.counter) > 58);
    expect(drawnTo(shown[atFreeze]!.rgb, row)!).toBeLessThan(row.x + row.width * 0.75);
  });
  it('the latency is named from the answer on, and not before', () => {
    const ink = (rgb: Uint8Array): number => {
      let most = 0;
      const { latency } = layout;
      for (let y = latency.y; y < latency.y + latency.height; y++)
        for (let x = latency.x; x < latency.x + latency.width; x++)
          most = Math.max(most, green(rgb, x, layout.panel.y + y));
      return most;
    };
    const first = record.presses[0]!.responses[0]!.latencyMs!;
    const scene = shown.slice(0, 60);
    for (const { rgb, counter } of scene) {
      if (Number(counter) < first) expect(ink(rgb)).toBeLessThan(60);
      else expect(ink(rgb)).toBeGreaterThan(120);
    }
  });
  it('does not flash more than three times a second, but for the digits, which are too small to count', async () => {
    const source = await openClip(film);
    const [width, height] = [40, 36];
    const grids: Uint8Array[] = [];
    const request = { runs: [[0, made.pictures - 1]] as const, width, height, scaling: 'area' as const };
    for await (const grid of readPictures(film, source.facts, request)) grids.push(grid);
    const startS = grids.map((_, i) => i / made.rateHz);
    const flashing: number[] = [];
    for (let cell = 0; cell < width * height; cell++) {
      const one = grids.map((grid) => grid.slice(3 * cell, 3 * cell + 3));
      if (countFlashes(one, startS).flashesPerS > 3) flashing.push(cell);
    }
    const pictureCells = width * Math.floor((height * layout.picture.height) / layout.height);
    expect(flashing.filter((cell) => cell < pictureCells)).toEqual([]);
    // WCAG 2.2, "general flash and red flash thresholds": a quarter of 341 x 256 px where the film fills 1024 x 768.
    expect(flashing.length / (width * height)).toBeLessThan((341 * 256) / 4 / (1024 * 768));
    expect(countFlashes(grids, startS).flashesPerS).toBeGreaterThan(0);
  });
  it('can be played while it loads: H.264, 4:2:0, the index in front', async () => {
    const { facts } = await openClip(film);
    expect(facts).toMatchObject({
      codec: 'h264',
      pixelFormat: 'yuv420p',
      transfer: 'bt709',
      range: 'limited',
    });
    const bytes = readFileSync(film);
    expect(bytes.indexOf('moov')).toBeGreaterThan(0);
    expect(bytes.indexOf('moov')).toBeLessThan(bytes.indexOf('mdat'));
  });
});

describe('one press', () => {
  it('the one nearest the median by itself; its record measured now where there is none', async () => {
    const place = scratch();
    const copy = copySample('alder-flat', place);
    copySample('alder-flat', place, 'twin.mp4');
    const out = join(place, 'new folder', 'film.gif');
    const ended = await lagreel(['annotate', copy, '-o', out, '--slow', '8']);
    expect(ended.code, ended.err).toBe(0);
    expect(ended.out).toMatch(
      /^Film: .*film\.gif\npress \d+, 8 times slower, [\d.]+ s, 480 x \d+ px, at most 0\.5 flash in a second\n$/,
    );
    const facts = await sharp(out, { animated: true }).metadata();
    expect(facts.format).toBe('gif');
    expect(facts.width).toBe(480);
    const delays = facts.delay!;
    expect(delays.filter((ms) => ms > 1000)).toHaveLength(1);
    const middle = delays.slice(0, 12).reduce((s, ms) => s + ms, 0) / 12;
    expect(middle).toBeGreaterThan(32);
    expect(middle).toBeLessThan(35);
    // Nothing but what was asked for.
    expect(listing(place)).toEqual(['alder-flat.mp4', 'new folder', 'new folder/film.gif', 'twin.mp4']);
  });
  it('a WebP of a chosen press', async () => {
    const out = join(folder, 'press.webp');
    const ended = await lagreel(['annotate', clip, '--press', '2', '-o', out, '--json']);
    expect(ended.code, ended.err).toBe(0);
    const made = JSON.parse(ended.out);
    expect(made.presses).toEqual([2]);
    const facts = await sharp(out, { animated: true }).metadata();
    expect(facts.format).toBe('webp');
    expect(facts.delay!.reduce((s, ms) => s + ms, 0) / 1000).toBeCloseTo(made.durationS, 1);
  });
  it('a tube is slowed down until it does not flash, and says so; or keeps its speed under a caution', async () => {
    const place = scratch();
    const copy = copySample('bench-tube', place);
    await lagreel(['measure', copy, '--quiet']);
    const out = join(place, 'tube.mp4');
    const slowed = await lagreel(['annotate', copy, '-o', out, '--press', '3', '--json']);
    expect(slowed.code, slowed.err).toBe(0);
    const made = JSON.parse(slowed.out);
    expect(made.slow).toBeGreaterThan(15);
    expect(made.flashesPerSAsked).toBeGreaterThan(3);
    expect(made.flashesPerS).toBeLessThanOrEqual(3);
    expect(slowed.said).toEqual([`lagreel: ${made.warnings[0]}`]);
    expect(slowed.said[0]).toContain('WCAG 2.3.1');
    const kept = await lagreel(['annotate', copy, '-o', out, '--press', '3', '--json', '--keep-speed']);
    const keptFilm = JSON.parse(kept.out);
    expect(keptFilm).toMatchObject({ slow: 8, cautionCard: true });
    expect(kept.said[0]).toContain('caution card');
    // The card: four seconds of one picture, then the film.
    const { facts } = await openClip(out);
    const grids: Uint8Array[] = [];
    const request = {
      runs: [[0, keptFilm.pictures - 1]] as const,
      width: 48,
      height: 40,
      scaling: 'area' as const,
    };
    for await (const grid of readPictures(out, facts, request)) grids.push(grid);
    const differs = (a: Uint8Array, b: Uint8Array) => a.some((v, i) => Math.abs(v - b[i]!) > 25);
    const card = grids.findIndex((grid) => differs(grid, grids[0]!));
    expect(card).toBe(Math.round(4 * keptFilm.rateHz));
    expect(
      countFlashes(
        grids,
        grids.map((_, i) => i / keptFilm.rateHz),
      ).flashesPerS,
    ).toBeGreaterThan(3);
  });
});

describe('what goes wrong', () => {
  it.each([
    {
      what: 'no such press',
      args: [clip, '--press', '77', '-o', join(folder, 'x.mp4')],
      code: 2,
      says: /no press 77/,
    },
    {
      what: 'no such screen',
      args: [clip, '--screen', 'side', '-o', join(folder, 'x.mp4')],
      code: 2,
      says: /"side"/,
    },
    { what: 'another format', args: [clip, '-o', join(folder, 'x.avi')], code: 2, says: /NAME\.mp4/ },
    { what: 'the clip itself', args: [clip, '-o', clip], code: 2, says: /clip itself/ },
    {
      what: 'no such record',
      args: [clip, '--record', join(folder, 'no.json'), '-o', join(folder, 'x.mp4')],
      code: 3,
      says: /no record/,
    },
    {
      what: 'no clip',
      args: [join(folder, 'none.mp4'), '-o', join(folder, 'x.mp4')],
      code: 3,
      says: /no file/,
    },
  ])('$what: one sentence, nothing written', async ({ args, code, says }) => {
    const before = [listing(folder), statSync(clip).size];
    const ended = await lagreel(['annotate', ...args]);
    expect(ended.code, ended.err).toBe(code);
    expect(ended.said).toHaveLength(1);
    expect(ended.said[0]).toMatch(says);
    expect([listing(folder), statSync(clip).size]).toEqual(before);
  });
  it('a record of another clip, and one that is broken', async () => {
    const place = scratch();
    const copy = copySample('alder-flat', place);
    writeFileSync(
      join(place, 'alder-flat.record.json'),
      readFileSync(join(folder, 'bench clip.record.json')),
    );
    const other = await lagreel(['annotate', copy, '-o', join(place, 'x.mp4')]);
    expect(other.code).toBe(2);
    expect(other.said[0]).toContain('another clip');
    writeFileSync(join(place, 'alder-flat.record.json'), '{"format":"lagreel-record","version":1}');
    const broken = await lagreel(['annotate', copy, '-o', join(place, 'x.mp4')]);
    expect(broken.code).toBe(3);
    expect(listing(place)).toEqual(['alder-flat.mp4', 'alder-flat.record.json']);
  });
  it.each([true, false])('Ctrl-C while painting leaves nothing (whole group: %s)', async (toGroup) => {
    const place = join(scratch(), 'new');
    mkdirSync(place);
    writeFileSync(join(place, 'film.mp4'), 'of an earlier run');
    let ffmpegs: number[] = [];
    const ended = await lagreel(['annotate', clip, '--all', '--slow', '60', '-o', join(place, 'film.mp4')], {
      ownGroup: true,
      onStart: (child) => {
        const look = setInterval(() => {
          const isPainting = listing(place).some((name) => name.endsWith('.part'));
          const working = descendants(child.pid!).filter((p) => p.name === 'ffmpeg');
          if (!isPainting || working.length === 0) return;
          clearInterval(look);
          ffmpegs = working.map((p) => p.pid);
          process.kill(toGroup ? -child.pid! : child.pid!, 'SIGINT');
        }, 20);
        child.once('close', () => clearInterval(look));
      },
    });
    expect(ended.code, ended.err).toBe(130);
    expect(ended.said).toEqual(['lagreel: stopped; nothing was written for the clip in progress']);
    expect(ffmpegs.length).toBeGreaterThan(0);
    expect(ffmpegs.filter(isAlive)).toEqual([]);
    expect(listing(place)).toEqual(['film.mp4']);
    expect(readFileSync(join(place, 'film.mp4'), 'utf8')).toBe('of an earlier run');
    expect(existsSync(place)).toBe(true);
  });
});
