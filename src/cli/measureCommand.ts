/** `lagreel measure`: clips in, record, table and report beside them. */
import { basename, dirname, join } from 'node:path';
import { Command, Option } from 'commander';
import { UsageError } from '../errors.js';
import {
  clipsIn,
  isFolder,
  type MeasuredFile,
  measureFile,
  readCameraFile,
  readSession,
  SESSION_FILE,
  type SessionClip,
  withSession,
} from '../node.js';
import { checkDistinct, toJsonText } from '../record/files.js';
import { plainText } from '../report/plainText.js';
import { renderSession } from '../report/sessionText.js';
import { renderSummary } from '../report/summaryText.js';
import { noCacheOption, samplingOf } from './cacheCommand.js';
import {
  addClipOptions,
  type ClipOptions,
  labelOption,
  numberOption,
  overlayOptions,
  recipePathOf,
  wholeOption,
  windowOption,
} from './options.js';
import { describeError, isExpected, progressLine, type Terminal } from './terminal.js';

/** Options of the command beside those that describe the clip. */
interface MeasureCommandOptions extends ClipOptions {
  readonly out?: string;
  readonly camera?: string;
  readonly updateRecipe?: boolean;
  /** A path; false for `--no-session`. Commander gives true where neither was said. */
  readonly session?: string | boolean;
  readonly jobs: number;
  readonly cache?: boolean;
  readonly json?: boolean;
  readonly quiet?: boolean;
}

/** The command. */
export function measureCommand(
  terminal: Terminal,
  signal: AbortSignal,
  finish: (code: number) => void,
): Command {
  return addClipOptions(
    new Command('measure')
      .description('Measure the latency of every press in one or more clips.')
      .argument('<clip...>', 'clips from the camera, or folders of them'),
  )
    .option('--level <share>', 'response level of the headline onset', numberOption('--level', 0.01, 0.99))
    .option('--window <from:to>', 'response window after the press, ms', windowOption)
    .addOption(new Option('--edge <edge>', 'which LED edge is the press').choices(['press', 'release']))
    .option('--label <key=value>', 'a label of the chain (may be repeated)', labelOption)
    .option('--session <file>', 'a table of labels (default: session.csv beside the clips)')
    .option('--no-session', 'no table of labels')
    .option('--jobs <n>', 'clips of a folder that are measured at a time', wholeOption('--jobs', 1, 64), 2)
    .option('--camera <file>', 'a camera file of lagreel calibrate: gives the row readout')
    .option('--out <folder>', 'write all results there instead of beside the clip')
    .option(
      '--update-recipe',
      'write NAME.recipe.json even where there is one, with the options of this call',
    )
    .addOption(noCacheOption())
    .option('--json', 'print the record as one JSON document (several clips: a list of records)')
    .option('--quiet', 'no progress and no summary; files and errors only')
    .addHelpText(
      'after',
      `
Examples:
  lagreel measure bench --refresh 60 --jobs 2
  lagreel measure clip.mp4 --refresh 60 --region led=led:40,300,24,24 --region top=screen:600,80,320,40 --json`,
    )
    .action(async (clips: string[], options: MeasureCommandOptions) => {
      finish(await measureAll(clips, options, terminal, signal));
    });
}

/** A clip that could not be measured. */
interface FailedClip {
  readonly clip: string;
  readonly error: string;
  readonly exitCode: number;
}

async function measureAll(
  paths: readonly string[],
  options: MeasureCommandOptions,
  terminal: Terminal,
  signal: AbortSignal,
): Promise<number> {
  const { clips, fromFolder } = await clipsOf(paths);
  checkDistinct(clips, options.out);
  const camera = options.camera === undefined ? undefined : await readCameraFile(options.camera);
  const sampling = samplingOf(options, terminal);
  const rowOf = await sessionRows(clips, options, terminal);
  // In the order of the clips, whichever is done first.
  const done = new Map<string, MeasuredFile>();
  const failed = new Map<string, FailedClip>();
  const quiet = options.quiet ?? false;
  const jobs = fromFolder ? Math.min(options.jobs, clips.length) : 1;
  await eachOf(clips, jobs, async (clip) => {
    signal.throwIfAborted();
    // Several progress lines would draw over each other.
    const progress = progressLine(terminal, { quiet: quiet || jobs > 1, file: clip });
    try {
      const result = await measureFile(clip, {
        ...recipePathOf(options),
        ...(options.out !== undefined ? { outFolder: options.out } : {}),
        ...(camera ? { camera } : {}),
        ...sampling,
        updateRecipe: options.updateRecipe ?? false,
        adjustRecipe: (recipe) => overlayOptions(withSession(recipe, rowOf(clip)), options),
        signal,
        onProgress: ({ stage, framesDone, framesTotal }) => progress.update(stage, framesDone, framesTotal),
      }).finally(() => progress.clear());
      done.set(clip, result);
      sayResult(result, { ...options, quiet: quiet || fromFolder }, terminal, clips.length > 1);
    } catch (error) {
      // The other clips go on, unless the person stopped the run or lagreel itself is at fault.
      if (signal.aborted || !isExpected(error)) throw error;
      const { text, exitCode } = describeError(error, clip);
      terminal.err(`lagreel: ${text}\n`);
      failed.set(clip, { clip, error: text, exitCode });
    }
    if (fromFolder && !quiet) {
      terminal.err(`${done.size + failed.size} of ${clips.length} clips: ${plainText(basename(clip))}\n`);
    }
  });
  const measured = clips.flatMap((clip) => done.get(clip) ?? []);
  const faults = clips.flatMap((clip) => failed.get(clip) ?? []);
  const listed = fromFolder || clips.length > 1;
  if (options.json && (listed || faults.length === 0)) {
    terminal.out(toJsonText(listed ? recordsOf(measured, faults) : measured[0]!.measurement.record));
  } else if (fromFolder && !quiet) {
    const records = measured.map((d) => d.measurement.record);
    terminal.out(renderSession(records, terminal));
  }
  if (listed && faults.length > 0) {
    terminal.err(
      `lagreel: ${faults.length} of ${clips.length} clips failed: ${faults.map((f) => plainText(f.clip)).join(', ')}\n`,
    );
  }
  return exitCodeOf(measured, faults, fromFolder);
}

/** Of a folder, 4 where anything in it failed: the others are measured. Of named clips, the gravest. */
function exitCodeOf(
  done: readonly MeasuredFile[],
  failed: readonly FailedClip[],
  fromFolder: boolean,
): number {
  const codes = [
    ...failed.map((f) => f.exitCode),
    ...done.map((d) => (d.measurement.record.fitness.class === 'unfit' ? 4 : 0)),
  ];
  const gravest = Math.max(0, ...codes);
  return fromFolder && gravest > 0 ? 4 : gravest;
}

/** Named clips, and the clips of named folders. */
async function clipsOf(
  paths: readonly string[],
): Promise<{ readonly clips: readonly string[]; readonly fromFolder: boolean }> {
  const folders = await Promise.all(paths.map((path) => isFolder(path)));
  const lists = await Promise.all(paths.map((path, i) => (folders[i] ? clipsIn(path) : [path])));
  return { clips: lists.flat(), fromFolder: folders.includes(true) };
}

/** The row of a clip in the session table beside it, or in the one that is named. */
async function sessionRows(
  clips: readonly string[],
  { session }: MeasureCommandOptions,
  terminal: Terminal,
): Promise<(clip: string) => SessionClip | undefined> {
  if (session === false) return () => undefined;
  const named = typeof session === 'string' ? session : null;
  const tableOf = (clip: string): string => named ?? join(dirname(clip), SESSION_FILE);
  const tables = new Map<string, readonly SessionClip[]>();
  for (const path of new Set(clips.map(tableOf))) {
    const table = await readSession(path);
    if (table === null && named !== null)
      throw new UsageError(`there is no session table ${named}: check the path`);
    tables.set(path, table ?? []);
    const missing = (table ?? []).filter((row) => !clips.some((clip) => basename(clip) === row.file));
    // One clip of a folder may well be measured alone.
    if (clips.length > 1 && missing.length > 0) {
      terminal.err(
        `lagreel: ${plainText(basename(path))} names ${missing.map((row) => plainText(row.file)).join(', ')}, not among the clips\n`,
      );
    }
  }
  return (clip) => tables.get(tableOf(clip))!.find((row) => row.file === basename(clip));
}

/** Runs a job on each item, so many at a time; the first error stops what has not begun. */
async function eachOf<T>(items: readonly T[], jobs: number, job: (item: T) => Promise<void>): Promise<void> {
  let next = 0;
  let stopped = false;
  const work = async (): Promise<void> => {
    while (!stopped && next < items.length) {
      const item = items[next]!;
      next += 1;
      try {
        await job(item);
      } catch (error) {
        stopped = true;
        throw error;
      }
    }
  };
  const workers = await Promise.allSettled(Array.from({ length: Math.max(1, jobs) }, work));
  const fault = workers.find((w) => w.status === 'rejected');
  if (fault) throw fault.reason;
}

/** The answer first, then where it is written down; in a quiet or JSON run only that a clip is unfit, and why. */
function sayResult(
  { measurement, files, recipeWritten }: MeasuredFile,
  options: MeasureCommandOptions,
  terminal: Terminal,
  named: boolean,
): void {
  const { record } = measurement;
  if (options.json || options.quiet) {
    if (record.fitness.class !== 'unfit') return;
    const reasons = record.fitness.reasons.filter((r) => r.severity === 'unfit').map((r) => r.text);
    terminal.err(`lagreel: ${plainText(`${record.clip.file} is unfit to measure: ${reasons.join(' ')}`)}\n`);
    return;
  }
  const recipe = recipeWritten ? 'written now; correct it by hand or with --region' : 'kept as it is';
  const written = [
    ['Report', `${files.report}  (open it in a browser)`],
    ['Regions', `${files.regions}  (check that they are right)`],
    ['Recipe', `${files.recipe}  (${recipe})`],
    ['Record', files.record],
    ['Table', files.csv],
  ];
  if (named) terminal.out(`${plainText(record.clip.file)}\n\n`);
  terminal.out(renderSummary(record, terminal));
  terminal.out(`\n${written.map(([what, where]) => `${what!.padEnd(8)} ${plainText(where!)}`).join('\n')}\n`);
  if (named) terminal.out('\n');
}

function recordsOf(done: readonly MeasuredFile[], failed: readonly unknown[]): object {
  return {
    format: 'lagreel-records',
    version: 1,
    records: done.map((d) => d.measurement.record),
    failed,
  };
}
