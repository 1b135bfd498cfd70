import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { cropSheet } from '../../src/report/pictures/cropSheet.js';
import { greyPng } from '../../src/report/pictures/greyPng.js';
import { drawOverlay, overlaySvg } from '../../src/report/pictures/overlay.js';
import { knownLetters, lettersPath, lettersWidth } from '../../src/report/pictures/strokeLetters.js';
import { CAPTURE_HZ, evidenceOf, HOSTILE, normalRecord } from './fixtures.js';
import { readMarkup } from './wellFormed.js';

const bytesOf = (address: string): Buffer => Buffer.from(address.split(',')[1] ?? '', 'base64');

describe('greyPng', () => {
  it.each([
    [1, 1],
    [7, 3],
    [288, 12],
  ])('%i x %i comes back through another decoder', async (width, height) => {
    const grey = Uint8Array.from({ length: width * height }, (_, i) => (i * 37) % 256);
    const decoded = await sharp(greyPng(width, height, grey))
      .raw()
      .toBuffer({ resolveWithObject: true });
    expect([decoded.info.width, decoded.info.height]).toEqual([width, height]);
    const channels = decoded.info.channels;
    expect(Array.from(grey, (_, i) => decoded.data[i * channels])).toEqual([...grey]);
  });

  it('refuses a wrong length', () => {
    expect(() => greyPng(2, 2, new Uint8Array(3))).toThrow('expected grey.length to be 2 * 2, got 3');
    expect(() => greyPng(0, 2, new Uint8Array(0))).toThrow('whole numbers of 1 px');
  });
});

describe('cropSheet', () => {
  const strip = evidenceOf(normalRecord(), 6).presses.get(1)![1]!;

  it('puts crops side by side', async () => {
    const runs = cropSheet(strip, 1 / CAPTURE_HZ);
    expect(runs.map((r) => [r.first, r.last])).toEqual([[0, 5]]);
    const { data, info } = await sharp(bytesOf(runs[0]!.address)).raw().toBuffer({ resolveWithObject: true });
    expect([info.width, info.height]).toEqual([6 * strip.columns, strip.rows]);
    const pixel = (x: number, y: number): number | undefined => data[(y * info.width + x) * info.channels];
    for (const [k, frame] of strip.frames.entries()) {
      expect(pixel(k * strip.columns + 5, 3)).toBe(frame.grey[3 * strip.columns + 5]);
    }
  });

  it('starts a new picture after a missing camera frame', () => {
    const gap = { ...strip, frames: strip.frames.filter((_, i) => i !== 2) };
    expect(cropSheet(gap, 1 / CAPTURE_HZ).map((r) => [r.first, r.last])).toEqual([
      [0, 1],
      [2, 4],
    ]);
  });

  it('shrinks large crops by means of blocks, and refuses wrong ones', async () => {
    const grey = Uint8Array.from({ length: 65 * 2 }, (_, i) => (i % 65 < 33 ? 10 : 200));
    const large = { ...strip, columns: 65, rows: 2, frames: [{ capturedAtS: 0, share: 0, grey }] };
    const { data, info } = await sharp(bytesOf(cropSheet(large, 1)[0]!.address))
      .raw()
      .toBuffer({ resolveWithObject: true });
    expect([info.width, info.height]).toEqual([22, 1]);
    expect([data[0], data[10 * info.channels], data[21 * info.channels]]).toEqual([10, 10, 200]);
    expect(() => cropSheet({ ...strip, rows: strip.rows + 1 }, 1)).toThrow('expected crop of region top');
  });
});

describe('strokeLetters', () => {
  it('keeps every glyph on its grid and gives every letter ink', () => {
    for (const letter of knownLetters) {
      const numbers = [...lettersPath(letter, 0, 0, 6).matchAll(/[\d.]+/g)].map((m) => Number(m[0]));
      if (letter !== ' ') expect(numbers.length).toBeGreaterThanOrEqual(4);
      numbers.forEach((v, i) => {
        expect(v).toBeLessThanOrEqual(i % 2 === 0 ? 4 : 6);
      });
    }
    const shapes = new Set(knownLetters.map((l) => lettersPath(l, 0, 0, 6)));
    expect(shapes.size).toBe(knownLetters.length);
  });

  it('draws small and accented letters as capitals and unknown ones as a box', () => {
    expect(lettersPath('é', 0, 0, 6)).toBe(lettersPath('E', 0, 0, 6));
    expect(lettersPath('→', 0, 0, 6)).toBe(lettersPath('日', 0, 0, 6));
    expect(lettersWidth('', 6)).toBe(0);
    expect(lettersWidth('A', 6)).toBeCloseTo(4, 10);
  });
});

describe('drawOverlay', () => {
  const width = 320;
  const height = 180;
  const picture = { width, height, rgb: new Uint8Array(3 * width * height).fill(90) };
  const regions = normalRecord().recipe.regions;

  it('draws scaled outlines and leaves the inside of a region as it was', async () => {
    const png = await drawOverlay(picture, regions, { fullWidthPx: 960, format: 'png' });
    const { data, info } = await sharp(png).raw().toBuffer({ resolveWithObject: true });
    expect([info.width, info.height]).toEqual([width, height]);
    const pixel = (x: number, y: number): number[] => [
      ...data.subarray((y * width + x) * info.channels).subarray(0, 3),
    ];
    // Region "bottom": x 330..590, y 190..280 of 960 px, so 110..196.7 and 63.3..93.3 here.
    expect(pixel(150, 80)).toEqual([90, 90, 90]);
    const edge = Array.from({ length: 60 }, (_, i) => pixel(125 + i, 61));
    expect(edge.some((p) => p[0]! < 60)).toBe(true);
    expect(pixel(10, 10)).toEqual([90, 90, 90]);
  });

  it('tells roles apart by line pattern and asks for no font', () => {
    const svg = overlaySvg(picture, regions, { fullWidthPx: 960 });
    const { tags } = readMarkup(svg);
    expect(tags.some((t) => t.name === 'text' || t.attributes.has('font-family'))).toBe(false);
    const dashes = new Set(
      tags.map((t) => t.attributes.get('stroke-dasharray')).filter((d) => d !== undefined),
    );
    expect(dashes.size).toBe(2);
  });

  it('survives hostile names and makes JPEG by default', async () => {
    const jpeg = await drawOverlay(
      picture,
      [{ name: HOSTILE, role: 'screen', x: 900, y: 500, width: 60, height: 40 }],
      { fullWidthPx: 960 },
    );
    expect((await sharp(jpeg).metadata()).format).toBe('jpeg');
    await expect(drawOverlay({ ...picture, height: 181 }, [], { fullWidthPx: 960 })).rejects.toThrow(
      '3 * 320 * 181',
    );
    await expect(drawOverlay(picture, [], { fullWidthPx: 0 })).rejects.toThrow('fullWidthPx');
  });

  it('places labels without hiding one another', () => {
    const close = [0, 1, 2].map((i) => ({
      name: `r${i}`,
      role: 'screen' as const,
      x: 300,
      y: 200 + 40 * i,
      width: 60,
      height: 30,
    }));
    const { tags } = readMarkup(overlaySvg(picture, close, { fullWidthPx: 960 }));
    const plates = tags
      .filter((t) => t.attributes.has('rx'))
      .map(
        (t) =>
          ['x', 'y', 'width', 'height'].map((k) => Number(t.attributes.get(k))) as [
            number,
            number,
            number,
            number,
          ],
      );
    expect(plates).toHaveLength(3);
    for (const [i, a] of plates.entries()) {
      for (const b of plates.slice(i + 1)) {
        const apart =
          a[0] + a[2] <= b[0] || b[0] + b[2] <= a[0] || a[1] + a[3] <= b[1] || b[1] + b[3] <= a[1];
        expect(apart).toBe(true);
      }
    }
  });
});
