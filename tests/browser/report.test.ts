/** The report in a real browser: no request, no console message, no sideways scrolling on a phone, readable on paper. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import type { Browser, BrowserContextOptions, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { drawOverlay } from '../../src/report/pictures/overlay.js';
import { renderReport } from '../../src/report/reportHtml.js';
import {
  evidenceOf,
  hostileRecord,
  noResponseRecord,
  normalRecord,
  onePressRecord,
} from '../report/fixtures.js';
import { launch, missing, present, required } from './chromium.js';

if (!present) console.warn(`report in a browser: ${missing}`);

it('a Chromium is there where CI asks for one', () => {
  expect(present || !required, missing).toBe(true);
});

describe.skipIf(!present)('report in a browser', () => {
  const pages: Record<string, string> = {};
  let folder: string;
  let browser: Browser;

  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), 'lagreel-report-'));
    const rgb = new Uint8Array(3 * 320 * 180).fill(70);
    for (const [name, record] of Object.entries({
      normal: normalRecord(),
      one: onePressRecord(),
      none: noResponseRecord(),
      hostile: hostileRecord(),
    })) {
      const overview = await drawOverlay({ width: 320, height: 180, rgb }, record.recipe.regions, {
        fullWidthPx: 960,
      });
      const path = join(folder, `${name}.html`);
      writeFileSync(path, renderReport(record, evidenceOf(record, 24, overview)));
      pages[name] = pathToFileURL(path).href;
    }
    browser = await launch();
  });

  afterAll(async () => {
    await browser?.close();
    rmSync(folder, { recursive: true, force: true });
  });

  /** Opens a report with all requests but its own file blocked and counted, and every message kept. */
  async function open(
    name: string,
    options: BrowserContextOptions,
  ): Promise<{ page: Page; requests: string[]; messages: string[] }> {
    const context = await browser.newContext(options);
    const page = await context.newPage();
    const requests: string[] = [];
    const messages: string[] = [];
    const own = pages[name]!;
    await page.route('**/*', async (route) => {
      const url = route.request().url();
      if (url === own) await route.continue();
      else {
        requests.push(url);
        await route.abort();
      }
    });
    page.on('request', (request) => {
      if (request.url() !== own && !request.url().startsWith('data:')) requests.push(request.url());
    });
    page.on('console', (message) => messages.push(`${message.type()}: ${message.text()}`));
    page.on('pageerror', (error) => messages.push(String(error)));
    await page.goto(own, { waitUntil: 'load' });
    return { page, requests, messages };
  }

  it('the counting of requests and messages works', async () => {
    const path = join(folder, 'control.html');
    writeFileSync(path, '<img src="http://127.0.0.1:9/x.png"><script>console.error("seen")</script>');
    pages.control = pathToFileURL(path).href;
    const { page, requests, messages } = await open('control', {});
    expect(requests).toContain('http://127.0.0.1:9/x.png');
    expect(messages).toContain('error: seen');
    await page.context().close();
  });

  for (const name of ['normal', 'one', 'none', 'hostile']) {
    for (const colorScheme of ['light', 'dark'] as const) {
      it(`${name}, ${colorScheme}: no request, no message, fits 360 px`, async () => {
        const { page, requests, messages } = await open(name, {
          viewport: { width: 360, height: 780 },
          colorScheme,
        });
        const openFolds = (): Promise<void> =>
          page.evaluate(() => {
            for (const fold of document.querySelectorAll('details')) fold.open = true;
          });
        await openFolds();
        const seen = await page.evaluate(() => ({
          overflowPx: document.documentElement.scrollWidth - window.innerWidth,
          background: getComputedStyle(document.body).backgroundColor,
          pictures: [...document.querySelectorAll('img')].map((i) => i.complete && i.naturalWidth > 0),
          smallestTextPx: Math.min(
            ...[...document.querySelectorAll('p,td,th,dd,dt,figcaption span')].map((e) =>
              Number.parseFloat(getComputedStyle(e).fontSize),
            ),
          ),
          smallestPlotTextPx: Math.min(
            ...[...document.querySelectorAll<SVGTextElement>('.plots text')].map(
              (t) => Number.parseFloat(getComputedStyle(t).fontSize) * (t.getScreenCTM()?.a ?? 0),
            ),
          ),
        }));
        expect(seen.overflowPx).toBeLessThanOrEqual(0);
        expect(seen.pictures).toEqual([true]);
        expect(seen.background).toBe(colorScheme === 'light' ? 'rgb(247, 245, 240)' : 'rgb(16, 22, 27)');
        expect(seen.smallestTextPx).toBeGreaterThanOrEqual(13);
        expect(seen.smallestPlotTextPx).toBeGreaterThanOrEqual(10);
        expect(requests).toEqual([]);
        expect(messages).toEqual([]);
        await page.context().close();
      });
    }
  }

  it('a link from the table opens the folded evidence', async () => {
    const { page } = await open('normal', { viewport: { width: 1100, height: 800 } });
    const sheet = page.locator('#press-12');
    expect(await sheet.isVisible()).toBe(false);
    await page.locator('a[href="#press-12"]').click();
    await sheet.waitFor({ state: 'visible', timeout: 5000 });
    await page.context().close();
  });

  it('prints on white, unfolded, within the paper', async () => {
    const { page } = await open('normal', { viewport: { width: 688, height: 970 }, colorScheme: 'dark' });
    await page.emulateMedia({ media: 'print' });
    const seen = await page.evaluate(() => ({
      background: getComputedStyle(document.body).backgroundColor,
      overflowPx: document.documentElement.scrollWidth - window.innerWidth,
      lastSheetPx: document.querySelector('#press-14')?.getBoundingClientRect().height ?? 0,
    }));
    expect(seen.background).toBe('rgb(255, 255, 255)');
    expect(seen.overflowPx).toBeLessThanOrEqual(0);
    expect(seen.lastSheetPx).toBeGreaterThan(100);
    expect((await page.pdf({ format: 'A4' })).subarray(0, 5).toString()).toBe('%PDF-');
    await page.context().close();
  });
});
