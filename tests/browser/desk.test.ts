/** The desk from end to end in a real browser: what is decided there holds after a restart and on the command line. */
import { readFileSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Recipe } from '../../src/record/recipe.js';
import type { ClipRecord } from '../../src/record/record.js';
import { headlineOf } from '../../src/report/headline.js';
import { fixed, withUncertainty } from '../../src/report/numberText.js';
import { present, required } from './chromium.js';
import {
  benchFolder,
  dragOver,
  lagreel,
  launchOffline,
  pressLines,
  type RunningDesk,
  settled,
  startDesk,
  strayRequests,
  tabTo,
  watch,
} from './deskHarness.js';

/** For what follows a measurement, on a busy machine. */
const PATIENT = { timeout: 20_000 };
const CLIP = 'alder-flat.mp4';
const STATUS: Readonly<Record<string, string>> = {
  measured: '● measured',
  'no-response': '○ no response',
  ambiguous: '◇ ambiguous',
  excluded: '× excluded',
};

/** A record as the list of presses must show it. */
function linesOf(record: ClipRecord): string[] {
  return record.presses.map((press) => {
    const latencies = press.responses.map((r) =>
      r.latencyMs === undefined ? '–' : withUncertainty(r.latencyMs, r.uncertaintyMs!),
    );
    const flags = press.flags.length + press.responses.reduce((n, r) => n + r.flags.length, 0);
    const standing = [
      STATUS[press.status],
      ...(press.reason === undefined ? [] : [press.reason]),
      ...(flags === 0 ? [] : [flags === 1 ? '1 flag' : `${flags} flags`]),
    ].join(' ');
    return [`Press ${press.index}`, fixed(press.ledOnsetS, 4), ...latencies, standing].join(' | ');
  });
}

const bigNumbers = async (page: Page): Promise<string[]> =>
  (await page.locator('.answer .big').allInnerTexts()).map((t) => t.replace(/\s+/g, ' ').trim());

it('a Chromium is there where CI asks for one', () => {
  if (!present) console.warn('the desk in a browser: no Chromium, so these checks are skipped');
  expect(present || !required).toBe(true);
});

describe.skipIf(!present)('the desk', () => {
  let browser: Browser;
  let folder: string;
  let desk: RunningDesk;
  const read = <T>(name: string): T => JSON.parse(readFileSync(join(folder, name), 'utf8')) as T;

  beforeAll(async () => {
    folder = benchFolder([CLIP, 'bench-tube.mp4']);
    desk = await startDesk(folder);
    browser = await launchOffline();
  });
  afterAll(async () => {
    await browser?.close();
    await desk?.stop();
    rmSync(dirname(folder), { recursive: true, force: true });
  });

  it('draw, measure, exclude, restart: all as it was left, and the command line says the same', async () => {
    const first = await watch(browser, desk.address);
    const { page } = first;
    await page.getByRole('heading', { name: 'Lantern Street bench' }).waitFor();
    expect(page.url()).not.toContain(new URL(desk.address).hash.slice(1));
    await page.getByRole('link', { name: CLIP }).click();
    await page.locator('[data-shown="0"]').waitFor();

    await page.getByRole('button', { name: 'Draw LED' }).click();
    await dragOver(page, [80, 122], [104, 146]);
    for (const [x, y] of [
      [300, 62],
      [300, 176],
    ] as const) {
      await page.getByRole('button', { name: 'Draw screen' }).click();
      await dragOver(page, [x, y], [x + 48, y + 36]);
    }
    await page.getByLabel('Name').nth(1).fill('top');
    await page.getByLabel('Name').nth(2).fill('bottom');
    await page.getByLabel('Display refresh, Hz').fill('60');
    await page.keyboard.press('Tab');
    await page.locator('.saving.saved').waitFor();
    const drawn = read<Recipe>('alder-flat.recipe.json');
    expect(drawn.regions.map((r) => [r.name, r.role])).toEqual([
      ['led', 'led'],
      ['top', 'screen'],
      ['bottom', 'screen'],
    ]);
    for (const [i, [x, y, width, height]] of [
      [80, 122, 24, 24],
      [300, 62, 48, 36],
      [300, 176, 48, 36],
    ].entries()) {
      const r = drawn.regions[i]!;
      for (const [seen, wanted] of [
        [r.x, x],
        [r.y, y],
        [r.width, width],
        [r.height, height],
      ] as const) {
        expect(Math.abs(seen - wanted!)).toBeLessThanOrEqual(2);
      }
    }

    await page.getByRole('button', { name: 'Measure', exact: true }).click();
    await settled(page);
    expect(await page.locator('.trace').count()).toBe(3);

    await page.getByRole('link', { name: 'Presses' }).click();
    expect(await pressLines(page)).toEqual(linesOf(read('alder-flat.record.json')));
    await page.getByRole('button', { name: 'Press 5', exact: true }).click();
    await page.locator('img.strip').first().waitFor();
    // Without a reason nothing happens but a question.
    await page.getByRole('button', { name: 'Exclude' }).click();
    await page.getByText('Say why').waitFor();
    await page.getByLabel('Reason to exclude it').fill('two buttons at once');
    await page.getByRole('button', { name: 'Exclude' }).click();
    const begin = performance.now();
    await page.getByText('It stays in the list').waitFor();
    await page.waitForFunction(
      () => !/older|%/.test(document.querySelector('.measure-bar')?.textContent ?? 'older'),
    );
    console.log(`desk: the numbers followed a decision after ${(performance.now() - begin).toFixed(0)} ms`);
    await settled(page);
    const left = await pressLines(page);
    expect(left[4]).toContain('× excluded two buttons at once');
    expect(left.length).toBe(read<ClipRecord>('alder-flat.record.json').presses.length);

    await page.getByRole('button', { name: 'Undo' }).click();
    await expect.poll(async () => (await pressLines(page))[4], PATIENT).toContain('● measured');
    await settled(page);
    await page.getByRole('button', { name: 'Redo' }).click();
    await expect.poll(() => pressLines(page), PATIENT).toEqual(left);
    await settled(page);
    await page.getByRole('link', { name: 'Numbers' }).click();
    const numbers = await bigNumbers(page);
    expect(numbers.length).toBe(2);
    expect(strayRequests(first.requests, desk)).toEqual([]);
    expect(first.messages).toEqual([]);
    await page.context().close();

    await desk.stop();
    desk = await startDesk(folder);
    const second = await watch(browser, desk.address);
    await second.page.getByRole('link', { name: CLIP }).click();
    await second.page.locator('[data-shown="0"]').waitFor();
    expect(
      await second.page
        .getByLabel('Name')
        .evaluateAll((all) => all.map((e) => (e as HTMLInputElement).value)),
    ).toEqual(['led', 'top', 'bottom']);
    await second.page.locator('.trace').nth(2).waitFor();
    await second.page.getByRole('link', { name: 'Presses' }).click();
    expect(await pressLines(second.page)).toEqual(left);
    await second.page.getByRole('link', { name: 'Numbers' }).click();
    await expect.poll(() => bigNumbers(second.page), PATIENT).toEqual(numbers);

    const record = JSON.parse(await lagreel('measure', join(folder, CLIP), '--json')) as ClipRecord;
    expect(record.presses.filter((p) => p.status === 'excluded').map((p) => [p.index, p.reason])).toEqual([
      [5, 'two buttons at once'],
    ]);
    expect(left).toEqual(linesOf(record));
    expect(numbers).toEqual(['top', 'bottom'].map((region) => headlineOf(record, region).main?.value));
    expect(second.messages).toEqual([]);
    await second.page.context().close();
  });

  it('the report opens in a tab of its own, with its style and pictures', async () => {
    const { page, requests, messages } = await watch(browser, desk.address);
    await page.getByRole('link', { name: CLIP }).click();
    await page.getByRole('link', { name: 'Numbers' }).click();
    const opened = page.context().waitForEvent('page');
    await page.getByRole('button', { name: 'Open the report' }).click();
    const report = await opened;
    await report.locator('#presses').waitFor();
    expect(await report.evaluate(() => getComputedStyle(document.body).backgroundColor)).toBe(
      'rgb(247, 245, 240)',
    );
    const pictures = await report
      .locator('img')
      .evaluateAll((all) => all.map((i) => (i as HTMLImageElement).naturalWidth > 0));
    expect(pictures).not.toContain(false);
    expect(pictures.length).toBeGreaterThan(0);
    expect(strayRequests(requests, desk)).toEqual([]);
    expect(messages).toEqual([]);
    await page.context().close();
  });

  it('a recipe that was changed elsewhere is not overwritten unasked', async () => {
    const { page } = await watch(browser, desk.address);
    await page.getByRole('link', { name: CLIP }).click();
    await page.locator('[data-shown="0"]').waitFor();
    const path = join(folder, 'alder-flat.recipe.json');
    const theirs = JSON.stringify({ ...read<Recipe>('alder-flat.recipe.json'), labels: { chain: 'theirs' } });
    writeFileSync(path, theirs);
    await page.getByLabel('Labels, one a line').fill('chain: mine');
    await page.keyboard.press('Tab');
    await page.getByRole('alert').getByText('changed elsewhere').waitFor();
    expect(readFileSync(path, 'utf8')).toBe(theirs);
    await page.getByRole('button', { name: 'Read the changed recipe' }).click();
    await page.locator('.saving.saved').waitFor();
    expect(await page.getByLabel('Labels, one a line').inputValue()).toBe('chain: theirs');
    await page.context().close();
  });

  it('the whole way without a mouse', async () => {
    const { page, messages } = await watch(browser, desk.address);
    const press = async (key: string, times = 1): Promise<void> => {
      for (let i = 0; i < times; i++) await page.keyboard.press(key);
    };
    await page.getByRole('heading', { name: 'Lantern Street bench' }).waitFor();
    await tabTo(page, page.getByRole('link', { name: 'bench-tube.mp4' }));
    await press('Enter');
    await page.locator('[data-shown="0"]').waitFor();
    const truth = JSON.parse(readFileSync('sample-clips/bench-tube.recipe.json', 'utf8')) as Recipe;

    // N makes a region in the middle; arrows bring it to its place, Shift with arrows to its size.
    for (const role of ['led', 'screen']) {
      await press('n');
      const button = page.locator(`button.region.${role}`);
      await expect.poll(() => button.evaluate((e) => e === document.activeElement), PATIENT).toBe(true);
      const wanted = truth.regions.find((r) => r.role === role)!;
      const sides = page
        .locator('.region-list li')
        .nth(role === 'led' ? 0 : 1)
        .locator('input[type=number]');
      const now = async (): Promise<number[]> =>
        Promise.all((await sides.all()).map(async (side) => Number(await side.inputValue())));
      for (const [axis, grow] of [
        ['Arrow', false],
        ['Shift+Arrow', true],
      ] as const) {
        const at = await now();
        const by = grow
          ? [wanted.width - at[2]!, wanted.height - at[3]!]
          : [wanted.x - at[0]!, wanted.y - at[1]!];
        for (const [i, [back, forth]] of [
          ['Left', 'Right'],
          ['Up', 'Down'],
        ].entries()) {
          const n = Math.abs(by[i]!);
          const key = `${axis}${by[i]! < 0 ? back : forth}`;
          await press(`Control+${key}`, Math.floor(n / 10));
          await press(key, n % 10);
        }
      }
      expect(await now()).toEqual([wanted.x, wanted.y, wanted.width, wanted.height]);
      expect((await button.getAttribute('aria-label'))!).toContain(`left ${wanted.x}, top ${wanted.y}`);
    }
    await tabTo(page, page.getByRole('button', { name: 'Measure', exact: true }));
    await press('Enter');
    await settled(page);

    await page.evaluate(() => (document.activeElement as HTMLElement | null)?.blur());
    await press('.');
    await expect
      .poll(async () => Number(await page.locator('[data-shown]').getAttribute('data-shown')), PATIENT)
      .toBeGreaterThan(0);
    const onset = Number(await page.locator('[data-shown]').getAttribute('data-shown'));
    await press('Shift+ArrowRight');
    await press('ArrowLeft');
    await expect
      .poll(async () => Number(await page.locator('[data-shown]').getAttribute('data-shown')), PATIENT)
      .toBe(onset + 9);

    await tabTo(page, page.getByRole('link', { name: 'Presses' }));
    await press('Enter');
    await tabTo(page, page.getByRole('button', { name: 'Press 1', exact: true }));
    await press('ArrowDown');
    await page.getByRole('heading', { name: 'Press 2' }).waitFor();
    await tabTo(page, page.getByLabel('Reason to exclude it'));
    await page.keyboard.type('the hand covered the LED');
    await press('Enter');
    await page.getByText('It stays in the list').waitFor();
    await tabTo(page, page.getByRole('button', { name: 'Restore' }));
    await press('Control+z');
    await expect.poll(async () => (await pressLines(page))[1], PATIENT).toContain('● measured');
    await page.getByRole('button', { name: 'Exclude' }).focus();
    await press('Control+Shift+z');
    await expect.poll(async () => (await pressLines(page))[1], PATIENT).toContain('× excluded');
    await settled(page);
    const record = read<ClipRecord>('bench-tube.record.json');
    expect(record.presses[1]).toMatchObject({ status: 'excluded', reason: 'the hand covered the LED' });
    expect(await pressLines(page)).toEqual(linesOf(record));
    expect(messages).toEqual([]);
    await page.context().close();
  });

  it('the page can ask nobody but the desk', async () => {
    const { page, messages } = await watch(browser, desk.address);
    await page.getByRole('heading', { name: 'Lantern Street bench' }).waitFor();
    const [port] = [new URL(desk.address).port];
    const refused = await page.evaluate(async (other) => {
      const asked = ['http://127.0.0.1:9/x', `http://localhost:${other}/x`, 'https://example.org/'];
      return Promise.all(
        asked.map((address) =>
          fetch(address).then(
            () => false,
            () => true,
          ),
        ),
      );
    }, port);
    expect(refused).toEqual([true, true, true]);
    expect(messages.join()).toContain('Content Security Policy');
    await page.context().close();
  });

  it('without the secret there is nothing to see, and the page says so', async () => {
    const { page } = await watch(browser, `${desk.origin}/`);
    await page.getByRole('heading', { name: 'This address lacks its secret' }).waitFor();
    const status = await page.evaluate(async () => (await fetch('/api/clips')).status);
    expect(status).toBe(403);
    await page.context().close();
  });
});
