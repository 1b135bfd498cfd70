/** The Chromium of the browser tests: where it is, whether it must be there, and how it is started. */
import { existsSync } from 'node:fs';
import { type Browser, chromium } from 'playwright-core';

const CHROMIUM = process.env.CHROMIUM_PATH ?? '/usr/bin/chromium';
/** Whether there is one. */
export const present = existsSync(CHROMIUM);
/** Whether there must be one: CI skips nothing. */
export const required = process.env.CI === 'true';

/** What is missing where nothing is `present`, one sentence. */
export const missing = `no Chromium at ${CHROMIUM}${required ? '' : ', so these checks are skipped'}`;

/** Starts it, without anything that it does of its own accord. */
export function launch(...more: readonly string[]): Promise<Browser> {
  return chromium.launch({
    executablePath: CHROMIUM,
    args: [
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
      ...more,
    ],
  });
}
