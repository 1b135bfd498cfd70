import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vitest/config';

const root = fileURLToPath(new URL('..', import.meta.url));
const slow = [
  'tests/accuracy/**/*.test.ts',
  'tests/matrix/**/*.test.ts',
  'tests/end-to-end/**/*.test.ts',
  'tests/fuzz/**/*.test.ts',
];
const browser = ['tests/browser/**/*.test.ts'];
// Needs a second FFmpeg, which must not become the one that all other tests run with: a suite of its own.
const builds = ['tests/builds/**/*.test.ts'];

// Four suites: `fast` runs always, `slow` decodes clips and judges error rates, `browser` needs a Chromium, `builds` a
// second FFmpeg.
export default defineConfig({
  root,
  test: {
    projects: [
      {
        root,
        test: {
          name: 'fast',
          include: ['tests/**/*.test.ts'],
          exclude: [...slow, ...browser, ...builds, '**/node_modules/**'],
          testTimeout: 60_000,
        },
      },
      {
        root,
        test: {
          name: 'slow',
          include: slow,
          testTimeout: 1_200_000,
          hookTimeout: 600_000,
          fileParallelism: false,
        },
      },
      { root, test: { name: 'browser', include: browser, testTimeout: 120_000, hookTimeout: 120_000 } },
      { root, test: { name: 'builds', include: builds, testTimeout: 300_000 } },
    ],
  },
});
