/** Report, board and cards in a real browser: light, dark, phone; nothing cut, nothing overlapping, contrast, axe's rules. */
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { boardHtml } from '../../src/report/board/boardHtml.js';
import { boardCard } from '../../src/report/cards/boardCard.js';
import type { Card } from '../../src/report/cards/cardSheet.js';
import { chainCard } from '../../src/report/cards/chainCard.js';
import { contrastRatio } from '../../src/report/palette.js';
import { fontPath } from '../../src/report/pictures/lettering.js';
import { drawOverlay } from '../../src/report/pictures/overlay.js';
import { renderReport } from '../../src/report/reportHtml.js';
import { benchComparison, hostileComparison, longNamesComparison } from '../report/boardFixtures.js';
import {
  evidenceOf,
  hostileRecord,
  noResponseRecord,
  normalRecord,
  onePressRecord,
} from '../report/fixtures.js';
import { launch, missing, present, required } from './chromium.js';
import { inspectPage } from './inspectPage.js';

if (!present) console.warn(`pictures in a browser: ${missing}`);
const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
/** Where screenshots are kept, for people to look at; nowhere without it. */
const SHOTS = process.env.LAGREEL_SHOTS;

it('a Chromium is there where CI asks for one', () => {
  expect(present || !required, missing).toBe(true);
});

describe.skipIf(!present)('in a browser', () => {
  let folder: string;
  let browser: Browser;

  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), 'lagreel-pictures-'));
    if (SHOTS !== undefined) mkdirSync(SHOTS, { recursive: true });
    browser = await launch();
  });
  afterAll(async () => {
    await browser?.close();
    rmSync(folder, { recursive: true, force: true });
  });

  const view = { desk: { width: 1280, height: 900 }, phone: { width: 360, height: 780 } } as const;

  async function open(
    name: string,
    html: string,
    viewport: { width: number; height: number },
    colorScheme: 'light' | 'dark',
  ): Promise<Page> {
    const path = join(folder, `${name}.html`);
    writeFileSync(path, html);
    // The page admits no script; axe's has to be let in from outside.
    const context = await browser.newContext({ viewport, colorScheme, bypassCSP: true });
    const page = await context.newPage();
    await page.goto(pathToFileURL(path).href, { waitUntil: 'load' });
    await page.evaluate(async () => {
      for (const fold of document.querySelectorAll('details')) fold.open = true;
      await document.fonts.ready;
    });
    if (SHOTS !== undefined)
      await page.screenshot({
        path: join(SHOTS, `${name}-${viewport.width}-${colorScheme}.png`),
        fullPage: true,
      });
    return page;
  }

  async function axe(page: Page): Promise<string[]> {
    await page.evaluate(AXE);
    const found = await page.evaluate(async () => {
      const run = (
        globalThis as unknown as {
          axe: {
            run: (options: object) => Promise<{
              violations: { id: string; nodes: { html: string; failureSummary: string }[] }[];
              passes: { id: string }[];
            }>;
          };
        }
      ).axe;
      const { violations, passes } = await run.run({ resultTypes: ['violations', 'passes'] });
      return {
        passes: passes.map((p) => p.id),
        violations: violations.flatMap((v) =>
          v.nodes.map((n) => `${v.id}: ${n.html.slice(0, 120)} ${n.failureSummary.slice(0, 160)}`),
        ),
      };
    });
    // That axe looked at all: contrast is one of its rules.
    expect(found.passes).toContain('color-contrast');
    return found.violations;
  }

  async function check(page: Page, withAxe: boolean): Promise<void> {
    const found = await page.evaluate(inspectPage);
    expect(found.pieces).toBeGreaterThan(3);
    expect(found.cut).toEqual([]);
    expect(found.overlapping).toEqual([]);
    if (withAxe) expect(await axe(page)).toEqual([]);
    await page.context().close();
  }

  it('the checks find what they look for', async () => {
    const bad = `<!DOCTYPE html><html lang="en"><title>x</title><body style="width:3000px;background:#fff"><main><h1>Head</h1>
<p style="white-space:nowrap">${'far too long '.repeat(60)}</p><div style="overflow:hidden;width:40px;white-space:nowrap">hidden here</div>
<p style="position:absolute;top:300px;left:10px">one over</p><p style="position:absolute;top:304px;left:14px">the other</p>
<p style="color:#bbb">pale</p><p>a</p><p>b</p><svg width="50" height="20"><text x="0" y="15">leaves its frame</text></svg></main></body></html>`;
    const page = await open('bad', bad, view.phone, 'light');
    const found = await page.evaluate(inspectPage);
    expect(found.cut.join()).toContain('leaves the page');
    expect(found.cut.join()).toContain('hidden by its box');
    expect(found.cut.join()).toContain('leaves its picture');
    expect(found.overlapping).toContain('"one over" and "the other"');
    expect((await axe(page)).join()).toContain('color-contrast');
    await page.context().close();
  });

  const report = async (record: ReturnType<typeof normalRecord>): Promise<string> => {
    const rgb = new Uint8Array(3 * 320 * 180).fill(70);
    const overview = await drawOverlay({ width: 320, height: 180, rgb }, record.recipe.regions, {
      fullWidthPx: 960,
    });
    return renderReport(record, evidenceOf(record, 24, overview));
  };
  const pages: readonly (readonly [string, () => Promise<string> | string])[] = [
    ['report-normal', () => report(normalRecord())],
    ['report-one', () => report(onePressRecord())],
    ['report-none', () => report(noResponseRecord())],
    ['report-hostile', () => report(hostileRecord())],
    ['board-bench', () => boardHtml(benchComparison())],
    ['board-hostile', () => boardHtml(hostileComparison())],
    ['board-long', () => boardHtml(longNamesComparison())],
  ];
  const looks = [
    ['desk', 'light'],
    ['desk', 'dark'],
    ['phone', 'light'],
    ['phone', 'dark'],
  ] as const;
  describe.each(pages)('%s', (name, make) => {
    it.each(looks)('%s, %s', async (size, scheme) => {
      await check(await open(name, await make(), view[size], scheme), true);
    });
  });

  it('the board is used by keyboard alone', async () => {
    const page = await open('keys', boardHtml(benchComparison()), view.desk, 'light');
    const reached = new Set<string>();
    for (let i = 0; i < 60; i++) {
      await page.keyboard.press('Tab');
      const focus = await page.evaluate(() => {
        const element = document.activeElement;
        if (element === null || element === document.body) return null;
        const outline = getComputedStyle(element);
        return {
          name: element.getAttribute('href') ?? element.className,
          seen: outline.outlineStyle !== 'none' && Number.parseFloat(outline.outlineWidth) >= 2,
        };
      });
      if (focus === null) break;
      expect(focus.seen, focus.name).toBe(true);
      reached.add(focus.name);
    }
    for (const { report: path } of benchComparison().clips) expect([...reached]).toContain(`./${path}`);
    expect([...reached]).toContain('scroll');
    await page.context().close();
  });

  const face = ([weight]: readonly [400 | 600 | 700]): string =>
    `@font-face{font-family:Inter;font-weight:${weight};src:url(data:font/ttf;base64,${readFileSync(fontPath(weight)).toString('base64')})}`;
  const cards: readonly (readonly [
    string,
    (shape: 'wide' | 'tall', theme: 'light' | 'dark') => Promise<Card>,
  ])[] = [
    ['chain', (shape, theme) => chainCard(normalRecord(), undefined, shape, theme)],
    ['chain-hostile', (shape, theme) => chainCard(hostileRecord(), undefined, shape, theme)],
    ['chain-none', (shape, theme) => chainCard(noResponseRecord(), undefined, shape, theme)],
    ['board', (shape, theme) => boardCard(benchComparison(), shape, theme)],
    ['board-hostile', (shape, theme) => boardCard(hostileComparison(), shape, theme)],
    ['board-long', (shape, theme) => boardCard(longNamesComparison(), shape, theme)],
  ];
  describe.each(cards)('card %s', (name, make) => {
    it.each([
      ['wide', 'light'],
      ['tall', 'dark'],
    ] as const)('%s, %s', async (shape, theme) => {
      const card = await make(shape, theme);
      const fonts = ([[400], [600], [700]] as const).map(face).join('');
      const html = `<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>card</title><style>${fonts}body{margin:0}svg{display:block}</style></head><body>${card.svg}</body></html>`;
      const page = await open(`card-${name}`, html, { width: card.widthPx, height: card.heightPx }, 'light');
      expect(await page.evaluate(() => document.fonts.check('700 20px Inter'))).toBe(true);
      // Letters on the ground: 4.5 to 1 at least (WCAG 2.2, 1.4.3), measured on what was drawn.
      const fills = await page.evaluate(() =>
        [...document.querySelectorAll('text')].map((t) => t.getAttribute('fill') ?? ''),
      );
      expect(fills.length).toBeGreaterThan(3);
      for (const fill of fills)
        expect(contrastRatio(fill, card.background), fill).toBeGreaterThanOrEqual(4.5);
      const smallest = await page.evaluate(() =>
        Math.min(
          ...[...document.querySelectorAll('text')].map((t) =>
            Number.parseFloat(getComputedStyle(t).fontSize),
          ),
        ),
      );
      expect(smallest).toBeGreaterThanOrEqual(26);
      await check(page, false);
    });
  });
});
