/** Starts `lagreel desk` on a folder of its own, and a Chromium in front of it that counts every request. */
import { type ChildProcess, execFile, spawn } from 'node:child_process';
import { copyFileSync, mkdirSync, mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import type { Browser, BrowserContextOptions, Locator, Page } from 'playwright-core';
import { launch } from './chromium.js';

const root = fileURLToPath(new URL('../..', import.meta.url));
const program = process.env.LAGREEL_BIN ?? join(root, 'bin/lagreel.js');

/** One run of the desk. */
export interface RunningDesk {
  /** With the secret. */
  readonly address: string;
  readonly origin: string;
  /** Process number of the server. */
  readonly pid: number;
  readonly stop: () => Promise<void>;
}

/** Starts the desk on a free port and waits for its address. */
export async function startDesk(folder: string): Promise<RunningDesk> {
  const child: ChildProcess = spawn(process.execPath, [program, 'desk', folder, '--port', '0'], {
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  const gone = new Promise<void>((done) => child.once('exit', () => done()));
  let said = '';
  const address = await new Promise<string>((found, failed) => {
    const hear = (piece: Buffer): void => {
      said += piece.toString();
      const match = /http:\/\/(?:127\.0\.0\.1|localhost):\d+\/#[\w-]+/.exec(said);
      if (match) found(match[0]);
    };
    child.stdout?.on('data', hear);
    child.stderr?.on('data', hear);
    void gone.then(() => failed(new Error(`lagreel desk ended: ${said}`)));
  });
  return {
    address,
    origin: new URL(address).origin,
    pid: child.pid!,
    stop: async () => {
      child.kill('SIGINT');
      await gone;
    },
  };
}

/** A folder of its own with spaces in its path, with copies of sample clips and nothing beside them. */
export function benchFolder(clips: readonly string[]): string {
  const folder = join(mkdtempSync(join(tmpdir(), 'lagreel desk ')), 'Lantern Street bench');
  mkdirSync(folder);
  for (const clip of clips) copyFileSync(join(root, 'sample-clips', clip), join(folder, clip));
  return folder;
}

/** What the command line prints on standard output. */
export async function lagreel(...args: string[]): Promise<string> {
  const run = promisify(execFile);
  const { stdout } = await run(process.execPath, [join(root, 'bin/lagreel.js'), ...args], { maxBuffer: 1e8 });
  return stdout;
}

/** A browser that reaches nothing by name. */
export function launchOffline(): Promise<Browser> {
  return launch('--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1');
}

/** A page with everything that it asked for and said. */
export interface WatchedPage {
  readonly page: Page;
  /** Addresses of requests, of this page and all that it opens. */
  readonly requests: string[];
  readonly messages: string[];
}

/** Opens an address and keeps what goes on. */
export async function watch(
  browser: Browser,
  address: string,
  options: BrowserContextOptions = {},
): Promise<WatchedPage> {
  const context = await browser.newContext({ viewport: { width: 1280, height: 800 }, ...options });
  const requests: string[] = [];
  const messages: string[] = [];
  context.on('request', (request) => requests.push(request.url()));
  context.on('console', (message) => {
    // A 404 is how the server says that nothing was sampled yet.
    if (!/status of 404/.test(message.text())) messages.push(`${message.type()}: ${message.text()}`);
  });
  context.on('weberror', (error) => messages.push(String(error.error())));
  const page = await context.newPage();
  await page.goto(address);
  return { page, requests, messages };
}

/** Requests that left for anywhere but the desk. */
export function strayRequests(requests: readonly string[], desk: RunningDesk): string[] {
  return requests.filter((url) => !url.startsWith(`${desk.origin}/`) && !/^(blob|data|about):/.test(url));
}

/** Drags over the picture between two points of it, px of a 480 x 270 picture. */
export async function dragOver(
  page: Page,
  from: readonly [number, number],
  to: readonly [number, number],
): Promise<void> {
  const box = (await page.locator('.stage').boundingBox())!;
  const at = ([x, y]: readonly [number, number]): [number, number] => [
    box.x + (x / 480) * box.width,
    box.y + (y / 270) * box.height,
  ];
  await page.mouse.move(...at(from));
  await page.mouse.down();
  await page.mouse.move(...at([(from[0] + to[0]) / 2, (from[1] + to[1]) / 2]));
  await page.mouse.move(...at(to));
  await page.mouse.up();
}

/** Waits until all is saved and no job is under way. */
export async function settled(page: Page): Promise<void> {
  await page.locator('.saving.saved').waitFor();
  await page.waitForFunction(
    () =>
      document.querySelector('.saving.saved') !== null &&
      document.querySelector('progress') === null &&
      document.querySelector('.measure-bar')?.textContent?.includes('presses,'),
  );
}

/** Presses Tab until the wanted element has the focus, as somebody without a mouse does. */
export async function tabTo(page: Page, wanted: Locator, most = 150): Promise<void> {
  for (let i = 0; i < most; i++) {
    if (await wanted.evaluate((element) => element === document.activeElement)) return;
    await page.keyboard.press('Tab');
  }
  throw new Error(`${most} times Tab did not lead to ${wanted}`);
}

/** The text of the table of presses, one line a press. */
export async function pressLines(page: Page): Promise<string[]> {
  const rows = await page.locator('.press-list tbody tr').all();
  return Promise.all(
    rows.map(async (row) =>
      (await row.locator('th,td').allInnerTexts()).map((t) => t.trim().replace(/\s+/g, ' ')).join(' | '),
    ),
  );
}
