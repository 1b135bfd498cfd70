/** Frames of a long 1080p clip while stepping, and the guard against flashing while playing. */
import { execFileSync } from 'node:child_process';
import { readdirSync, rmSync } from 'node:fs';
import { dirname, join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { findFfmpeg } from '../../src/clip/findFfmpeg.js';
import { present } from './chromium.js';
import { benchFolder, launchOffline, type RunningDesk, startDesk, watch } from './deskHarness.js';

const STEPS = 100;

describe.skipIf(!present)('frames of a 60 s, 1080p clip', () => {
  let browser: Browser;
  let folder: string;
  let desk: RunningDesk;

  beforeAll(async () => {
    folder = benchFolder([]);
    const { path } = await findFfmpeg();
    const part = join(folder, 'part.mp4');
    // Two seconds of a moving test card, thirty times over.
    execFileSync(path, [
      ...['-v', 'error', '-f', 'lavfi', '-i', 'testsrc=size=1920x1080:rate=240:duration=2'],
      ...['-vf', 'format=yuv420p'],
      ...['-c:v', 'libx264', '-preset', 'ultrafast', '-g', '240', part],
    ]);
    execFileSync(path, [
      '-v',
      'error',
      '-stream_loop',
      '29',
      '-i',
      part,
      '-c',
      'copy',
      join(folder, 'long.mp4'),
    ]);
    rmSync(part);
    // A small square that changes with every picture that real time shows: eight camera frames on, eight off.
    execFileSync(path, [
      ...['-v', 'error', '-f', 'lavfi', '-i', 'color=c=black:size=320x180:rate=240:duration=8'],
      ...['-vf', "drawbox=x=100:y=60:w=60:h=60:c=white:t=fill:enable='lt(mod(n,16),8)',format=yuv420p"],
      ...['-c:v', 'libx264', '-preset', 'ultrafast', '-g', '240', join(folder, 'flashing.mp4')],
    ]);
    desk = await startDesk(folder);
    browser = await launchOffline();
  });
  afterAll(async () => {
    await browser?.close();
    await desk?.stop();
    rmSync(dirname(folder), { recursive: true, force: true });
  });

  async function open(clip = 'long.mp4'): Promise<Page> {
    const { page } = await watch(browser, desk.address);
    await page.getByRole('link', { name: clip }).click();
    await page.locator('[data-shown="0"]').waitFor({ timeout: 60_000 });
    return page;
  }

  /** Presses a key and waits until its frame is drawn; ms for each. */
  async function step(page: Page, key: string, by: number, times: number): Promise<number[]> {
    return page.evaluate(
      async ([name, shift, each, count]) => {
        const shown = document.querySelector<HTMLElement>('[data-shown]')!;
        const took: number[] = [];
        for (let i = 0; i < count; i++) {
          const wanted = String(Number(shown.dataset.shown) + each);
          const begin = performance.now();
          dispatchEvent(new KeyboardEvent('keydown', { key: name, shiftKey: shift, bubbles: true }));
          while (shown.dataset.shown !== wanted) {
            await new Promise((go) => requestAnimationFrame(go));
            if (performance.now() - begin > 20_000) throw new Error(`frame ${wanted} did not come`);
          }
          took.push(performance.now() - begin);
        }
        return took;
      },
      [key, Math.abs(by) === 10, by, times] as const,
    );
  }

  it('appear while stepping; how fast is printed', async () => {
    const page = await open();
    expect(await page.locator('.clock').textContent()).toContain('frame 1 of 14400');
    await page.getByLabel('Go to, s').fill('30');
    await page.keyboard.press('Enter');
    await page.locator('[data-shown="7200"]').waitFor({ timeout: 60_000 });
    await page.evaluate(() => (document.activeElement as HTMLElement | null)?.blur());
    const rows = {
      'one on': await step(page, 'ArrowRight', 1, STEPS),
      'one back': await step(page, 'ArrowLeft', -1, STEPS),
      'ten on': await step(page, 'ArrowRight', 10, STEPS),
    };
    for (const [words, took] of Object.entries(rows)) {
      const sorted = [...took].sort((a, b) => a - b);
      const mean = took.reduce((sum, t) => sum + t, 0) / took.length;
      console.log(
        `desk, 1080p 60 s, ${words}: mean ${mean.toFixed(0)} ms, median ${sorted[STEPS / 2]!.toFixed(0)} ms, slowest ${sorted.at(-1)!.toFixed(0)} ms over ${STEPS} frames`,
      );
      expect(took.length).toBe(STEPS);
    }
    expect(await page.locator('.clock').textContent()).toContain('frame 8201 of 14400');
    await page.context().close();
  });

  it('a measurement shows how far it is, and can be cancelled', async () => {
    const page = await open();
    await page.getByRole('button', { name: 'Measure', exact: true }).click();
    await page.locator('progress').waitFor();
    await page.getByRole('button', { name: 'Cancel' }).click();
    await page.getByText('Cancelled.').waitFor({ timeout: 60_000 });
    await page.getByRole('button', { name: 'Measure', exact: true }).waitFor();
    expect(readdirSync(folder).filter((name) => name.startsWith('long'))).toEqual(['long.mp4']);
    await page.context().close();
  });

  it('playing stops before it flashes too often, and asks', async () => {
    const page = await open('flashing.mp4');
    const speed = page.getByLabel('Speed');
    // What one begins with cannot flash too often, whatever the clip shows.
    expect(Number(await speed.inputValue())).toBeLessThanOrEqual(5 / 240);
    await speed.selectOption('1');
    await page.getByRole('button', { name: 'Play', exact: true }).click();
    await page.getByText('more than three flashes in a second').waitFor({ timeout: 60_000 });
    await page.getByRole('button', { name: 'Play', exact: true }).waitFor();
    // The picture that was on its way when playing stopped still comes, as soon as it is one flash less; then no other.
    await page.waitForTimeout(2000);
    const held = await page.locator('[data-shown]').getAttribute('data-shown');
    await page.waitForTimeout(700);
    expect(await page.locator('[data-shown]').getAttribute('data-shown')).toBe(held);
    await page.getByRole('button', { name: 'Play all the same' }).click();
    await expect
      .poll(async () => Number(await page.locator('[data-shown]').getAttribute('data-shown')), {
        timeout: 60_000,
      })
      .toBeGreaterThan(Number(held) + 48);
    await page.getByRole('button', { name: 'Pause' }).click();
    await page.context().close();
  });
});
