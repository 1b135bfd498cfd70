/** Cards: their size, their words, and how letters are measured. */
import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { boardCard } from '../../src/report/cards/boardCard.js';
import { chainCard } from '../../src/report/cards/chainCard.js';
import { fitLine, svgToPng, textWidthPx, wrapLines } from '../../src/report/pictures/lettering.js';
import { benchComparison, hostileComparison } from './boardFixtures.js';
import { hostileRecord, noResponseRecord, normalRecord, onePressRecord } from './fixtures.js';
import { readMarkup } from './wellFormed.js';

describe('cards', () => {
  it.each(['wide', 'tall'] as const)('%s: the size that was promised, of both kinds', async (shape) => {
    const cards = [
      await chainCard(normalRecord(), undefined, shape, 'light'),
      await boardCard(benchComparison(), shape, 'dark'),
    ];
    for (const card of cards) {
      readMarkup(card.svg);
      const { width, height, format } = await sharp(await svgToPng(card.svg, card.background)).metadata();
      expect([width, height, format]).toEqual(shape === 'wide' ? [1920, 1080, 'png'] : [1080, 1920, 'png']);
    }
  });
  it('a chain: figure, interval, kind and verdict in words', async () => {
    const { svg } = await chainCard(normalRecord(), undefined, 'wide', 'light');
    for (const words of [
      '60.1',
      'fixed delay, 95 % interval 59.2 to 60.9 ms',
      '>fixed<',
      'the same for every press',
      '12 presses',
    ])
      expect(svg).toContain(words);
  });
  it.each([
    ['one press', onePressRecord()],
    ['no response', noResponseRecord()],
    ['hostile', hostileRecord()],
  ])('a chain with %s still makes a card', async (_, record) => {
    const { svg } = await chainCard(record, undefined, 'tall', 'dark');
    readMarkup(svg);
    expect(svg).not.toContain('<script');
    expect(svg).not.toContain('NaN');
  });
  it('a board: each group with its kind in words; what has no room is counted', async () => {
    const bench = benchComparison();
    const { svg } = await boardCard(bench, 'tall', 'light');
    for (const group of bench.groups) expect(svg).toContain(`>${group.name}<`);
    expect(svg).toContain('variable');
    expect(svg).toContain('no zero check');
    const many = {
      ...bench,
      groups: Array.from({ length: 14 }, (_, i) => ({
        ...bench.groups[0]!,
        name: `Chain ${i}`,
        labels: { chain: `Chain ${i}` },
      })),
    };
    const crowded = await boardCard(many, 'wide', 'light');
    expect(crowded.svg).toContain('and 8 more groups on the board');
    expect((await boardCard(hostileComparison(), 'wide', 'dark')).svg).not.toContain('<script');
  });
});

describe('lettering', () => {
  it('measures what is drawn: wider for more letters, larger sizes and bolder weights', async () => {
    const [thin, bold, longer] = await Promise.all([
      textWidthPx('Birch', 40, 400),
      textWidthPx('Birch', 40, 700),
      textWidthPx('Birch and Cedar', 40, 400),
    ]);
    expect(bold).toBeGreaterThan(thin * 1.02);
    expect(longer).toBeGreaterThan(2.5 * thin);
    expect(await textWidthPx('Birch', 80, 400)).toBeCloseTo(2 * thin, 6);
    expect(await textWidthPx('', 40, 400)).toBe(0);
  });
  it('a line that does not fit gets smaller, then shorter', async () => {
    const text = 'A very long name of a chain between thumb and eye';
    const full = await textWidthPx(text, 60, 600);
    expect(await fitLine(text, full + 1, 60, 30, 600)).toEqual({ text, sizePx: 60 });
    const small = await fitLine(text, full * 0.7, 60, 30, 600);
    expect(small.text).toBe(text);
    expect(small.sizePx).toBeCloseTo(42, 0);
    const cut = await fitLine(text, full * 0.3, 60, 30, 600);
    expect(cut.text.endsWith('…')).toBe(true);
    expect(await textWidthPx(cut.text, cut.sizePx, 600)).toBeLessThanOrEqual(full * 0.3);
    const lines = await wrapLines(text, full * 0.4, 60, 600);
    expect(lines.join(' ')).toBe(text);
    for (const line of lines) expect(await textWidthPx(line, 60, 600)).toBeLessThanOrEqual(full * 0.4);
  });
});
