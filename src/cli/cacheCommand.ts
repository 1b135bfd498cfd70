/** `lagreel cache`: what is kept of decoded clips, and where; and the cache of the other commands. */
import { setImmediate } from 'node:timers/promises';
import { Command, Option } from 'commander';
import { UsageError } from '../errors.js';
import {
  cacheContent,
  cachedFacts,
  cachedFindings,
  cachedOverviews,
  cachedSampleClip,
  cacheFolder,
  clearCache,
  DEFAULT_CACHE_BYTES,
  type MeasureFileOptions,
  type MeasureOptions,
  type SamplesCache,
} from '../node.js';
import { toJsonText } from '../record/files.js';
import { plainText } from '../report/plainText.js';
import type { Terminal } from './terminal.js';

const MEGABYTE = 1024 ** 2;

/** The command. */
export function cacheCommand(
  terminal: Terminal,
  _signal: AbortSignal,
  finish: (code: number) => void,
): Command {
  return new Command('cache')
    .description('Show what is kept of decoded clips, so that measuring them again needs no decoding.')
    .option('--clear', 'empty it')
    .option('--json', 'one JSON document on standard output')
    .addHelpText(
      'after',
      `
Examples:
  lagreel cache
  lagreel cache --clear`,
    )
    .action(async (options: { readonly clear?: boolean; readonly json?: boolean }) => {
      const folder = cacheFolder(process.env, process.platform);
      const limitBytes = limitOf(process.env);
      const cleared = options.clear ? await clearCache(folder) : null;
      const content = await cacheContent(folder);
      if (options.json) terminal.out(toJsonText({ folder, limitBytes, ...content, cleared }));
      else {
        const lines = [
          ['Folder', folder],
          ...(cleared ? [['Cleared', sizeText(cleared)]] : []),
          ['Kept', `${sizeText(content)}, of at most ${megabytes(limitBytes)}`],
        ];
        terminal.out(lines.map(([what, where]) => `${what!.padEnd(8)} ${plainText(where!)}\n`).join(''));
      }
      finish(0);
    });
}

/** `--no-cache`, for the commands that measure. */
export function noCacheOption(): Option {
  return new Option('--no-cache', 'decode the clip even where its samples are kept, and keep none');
}

/** How a command that measures comes to its samples: through the user's cache, unless told otherwise. */
export function samplingOf(
  { cache }: { readonly cache?: boolean },
  terminal: Terminal,
): Pick<MeasureOptions, 'sample'> {
  const kept = cacheOf({ cache }, terminal);
  return kept ? { sample: cachedSampleClip(kept) } : {};
}

/** The ways to what was sampled, found and drawn before, and the end of what is written there meanwhile. */
export interface KeptResults {
  readonly ways: Pick<MeasureFileOptions, 'sample' | 'findings' | 'overviews' | 'facts'>;
  /** Nothing is lost if it is awaited, however the measurement ends. */
  readonly written: () => Promise<void>;
}

/** The same, and how it comes to what was found and drawn before. */
export function keptResultsOf(options: { readonly cache?: boolean }, terminal: Terminal): KeptResults {
  const cache = cacheOf(options, terminal);
  if (!cache) return { ways: {}, written: async () => undefined };
  // One after another, and none before the measurement waits for something: it has to wait for FFmpeg's still anyway.
  let writing: Promise<void> | undefined;
  const later = (write: () => Promise<void>) => {
    writing = (writing ?? setImmediate()).then(write);
    // Whoever waits for it hears of a failure.
    writing.catch(() => undefined);
  };
  const kept = { ...cache, later };
  return {
    ways: {
      sample: cachedSampleClip(kept),
      findings: cachedFindings(kept),
      overviews: cachedOverviews(kept),
      facts: cachedFacts(kept),
    },
    written: async () => writing,
  };
}

/** The user's cache, unless told to use none. */
export function cacheOf(
  { cache }: { readonly cache?: boolean | undefined },
  terminal: Terminal,
): SamplesCache | null {
  if (cache === false) return null;
  let told = false;
  return {
    folder: cacheFolder(process.env, process.platform),
    limitBytes: limitOf(process.env),
    onTrouble: (sentence) => {
      // Once is enough for a folder of a thousand clips.
      if (!told) terminal.err(`lagreel: ${plainText(sentence)}\n`);
      told = true;
    },
  };
}

/** `LAGREEL_CACHE_MB`, else the default. */
function limitOf(env: Readonly<Record<string, string | undefined>>): number {
  const text = env.LAGREEL_CACHE_MB;
  if (text === undefined || text === '') return DEFAULT_CACHE_BYTES;
  if (/^\d{1,7}$/.test(text)) return Number(text) * MEGABYTE;
  throw new UsageError(`LAGREEL_CACHE_MB must be a whole number of megabytes, got "${text}"`);
}

function sizeText({ entries, bytes }: { readonly entries: number; readonly bytes: number }): string {
  return `${megabytes(bytes)} of ${entries} ${entries === 1 ? 'entry' : 'entries'}`;
}

function megabytes(bytes: number): string {
  return `${(bytes / MEGABYTE).toFixed(bytes < 10 * MEGABYTE ? 1 : 0)} MB`;
}
