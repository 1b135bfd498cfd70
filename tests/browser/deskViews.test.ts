/** Every view of the desk: axe-core finds no serious fault, nothing is cut off, light and dark, laptop and tablet. */
import { copyFileSync, mkdirSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';
import type { AxeResults } from 'axe-core';
import type { Browser, BrowserContextOptions, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { present } from './chromium.js';
import {
  benchFolder,
  lagreel,
  launchOffline,
  type RunningDesk,
  startDesk,
  strayRequests,
  watch,
} from './deskHarness.js';

/** For what follows a measurement, on a busy machine. */
const PATIENT = { timeout: 20_000 };
const axeSource = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const SHOTS = process.env.DESK_SHOTS;

const SCREENS: Readonly<Record<string, BrowserContextOptions>> = {
  'light, 1280 x 800': { colorScheme: 'light' },
  'dark, 1280 x 800': { colorScheme: 'dark' },
  'light, tablet': {
    colorScheme: 'light',
    viewport: { width: 1024, height: 768 },
    hasTouch: true,
    isMobile: true,
  },
  'dark, tablet': {
    colorScheme: 'dark',
    viewport: { width: 1024, height: 768 },
    hasTouch: true,
    isMobile: true,
  },
};

/** The serious and critical faults that axe-core finds, one line each. */
async function faults(page: Page): Promise<string[]> {
  await page.evaluate(axeSource);
  const { violations } = await page.evaluate(() =>
    (window as unknown as { axe: { run: () => Promise<AxeResults> } }).axe.run(),
  );
  return violations
    .filter((v) => v.impact === 'serious' || v.impact === 'critical')
    .flatMap((v) => v.nodes.map((n) => `${v.id}: ${n.html.slice(0, 160)} (${n.failureSummary})`));
}

describe.skipIf(!present)('views of the desk', () => {
  let browser: Browser;
  let folder: string;
  let desk: RunningDesk;

  beforeAll(async () => {
    const clips = ['alder-flat', 'birch-variable', 'cedar-sprite'];
    folder = benchFolder(clips.map((c) => `${c}.mp4`));
    for (const clip of clips) {
      copyFileSync(`sample-clips/${clip}.recipe.json`, join(folder, `${clip}.recipe.json`));
    }
    // The last one stays unmeasured.
    for (const clip of clips.slice(0, 2)) await lagreel('measure', join(folder, `${clip}.mp4`), '--quiet');
    desk = await startDesk(folder);
    browser = await launchOffline();
    if (SHOTS) mkdirSync(SHOTS, { recursive: true });
  });
  afterAll(async () => {
    await browser?.close();
    await desk?.stop();
    rmSync(dirname(folder), { recursive: true, force: true });
  });

  for (const [screen, options] of Object.entries(SCREENS)) {
    it(screen, async () => {
      const { page, requests, messages } = await watch(browser, desk.address, options);
      const found: string[] = [];
      const look = async (view: string): Promise<void> => {
        await page.waitForTimeout(250);
        for (const fault of await faults(page)) found.push(`${view}: ${fault}`);
        const wide = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
        if (wide > 0) found.push(`${view}: ${wide} px too wide`);
        if (SHOTS)
          await page.screenshot({ path: join(SHOTS, `${view} ${screen}.png`.replace(/[ ,]+/g, '-')) });
      };
      await page.locator('.card img').nth(2).waitFor();
      await look('folder');
      await page.getByRole('link', { name: 'alder-flat.mp4' }).click();
      await page.locator('[data-shown="0"]').waitFor();
      await page.locator('.trace').nth(1).waitFor();
      await page.keyboard.press('.');
      await page.keyboard.press('.');
      await page.locator('button.region.screen').focus();
      for (const fold of await page.locator('details').all())
        await fold.evaluate((e) => e.setAttribute('open', ''));
      await look('clip');
      await page.getByRole('link', { name: 'Presses' }).click();
      await page.locator('img.strip').first().waitFor();
      await look('presses');
      await page.getByRole('link', { name: 'Numbers' }).click();
      await page.locator('.plots').first().waitFor();
      await look('numbers');
      await page.getByRole('link', { name: 'All clips', exact: false }).first().click();
      await page.getByRole('link', { name: 'Compare' }).click();
      await page.getByRole('button', { name: 'Compare', exact: true }).click();
      // The library refuses what does not compare; the page says so, and still lists the groups.
      await page.getByText('does not compare').waitFor();
      await page.getByRole('button', { name: 'Compare all the same' }).waitFor();
      await look('compare refused');
      await page.getByLabel('Against').selectOption('');
      await page.getByRole('button', { name: 'Compare', exact: true }).click();
      await page.getByRole('row', { name: /Alder/ }).waitFor();
      await look('compare');
      await page.getByRole('link', { name: 'All clips', exact: false }).first().click();
      await page.getByRole('link', { name: 'cedar-sprite.mp4' }).click();
      await page.locator('[data-shown="0"]').waitFor();
      await look('unmeasured');
      await page.getByRole('link', { name: 'Numbers' }).click();
      await page.getByText('Measure the clip first').waitFor();
      await look('numbers of an unmeasured clip');
      expect(found).toEqual([]);
      expect(strayRequests(requests, desk)).toEqual([]);
      // Chromium notes the refused comparison.
      expect(messages.filter((m) => !/status of 422/.test(m))).toEqual([]);
      await page.context().close();
    });
  }

  it('the checker finds planted faults', async () => {
    const { page } = await watch(browser, desk.address);
    await page.locator('.card img').first().waitFor();
    await page.evaluate(() => {
      document.querySelector('main')!.insertAdjacentHTML('beforeend', '<button></button><input>');
    });
    expect((await faults(page)).join()).toMatch(/button-name.*label/s);
    await page.context().close();
  });

  it('a finger draws, moves and resizes a region', async () => {
    const { page } = await watch(browser, desk.address, SCREENS['light, tablet']);
    await page.getByRole('link', { name: 'cedar-sprite.mp4' }).tap();
    await page.locator('[data-shown="0"]').waitFor();
    const before = await page.locator('button.region').count();
    await page.getByRole('button', { name: 'Draw reference' }).tap();
    const box = (await page.locator('.stage').boundingBox())!;
    const client = await page.context().newCDPSession(page);
    const touch = (type: 'touchStart' | 'touchMove' | 'touchEnd', x: number, y: number) =>
      client.send('Input.dispatchTouchEvent', {
        type,
        touchPoints: type === 'touchEnd' ? [] : [{ x: box.x + x * box.width, y: box.y + y * box.height }],
      });
    const drag = async (from: readonly [number, number], to: readonly [number, number]): Promise<void> => {
      await touch('touchStart', ...from);
      await touch('touchMove', (from[0] + to[0]) / 2, (from[1] + to[1]) / 2);
      await touch('touchMove', ...to);
      await touch('touchEnd', ...to);
    };
    await drag([0.03, 0.7], [0.13, 0.9]);
    const drawn = page.locator('button.region.reference');
    await drawn.waitFor();
    expect(await page.locator('button.region').count()).toBe(before + 1);
    const label = async (): Promise<number[]> =>
      [...(await drawn.getAttribute('aria-label'))!.matchAll(/\d+/g)].map((m) => Number(m[0]));
    const [x, y, width, height] = (await label()) as [number, number, number, number];
    for (const [seen, wanted] of [
      [x, 0.03 * 480],
      [y, 0.7 * 270],
      [width, 0.1 * 480],
      [height, 0.2 * 270],
    ] as const) {
      expect(Math.abs(seen - wanted)).toBeLessThanOrEqual(2);
    }
    await drag([0.08, 0.8], [0.18, 0.8]);
    await expect.poll(async () => (await label())[0], PATIENT).toBeGreaterThan(x + 40);
    // Its lower right corner.
    await drag([0.23, 0.9], [0.28, 0.95]);
    await expect.poll(async () => (await label())[2], PATIENT).toBeGreaterThan(width + 15);
    await page.context().close();
  });
});
