/** `lagreel measure`: clips in, record, table and report beside them. */
import { readdir } from 'node:fs/promises';
import { availableParallelism } from 'node:os';
import { basename, dirname, join } from 'node:path';
import { Command, Option } from 'commander';
import { UsageError } from '../errors.js';
import {
  clipsIn,
  inWritableFolder,
  isFolder,
  readCameraFile,
  readSession,
  removeLeftovers,
  SESSION_FILE,
  type SessionClip,
} from '../node.js';
import { checkDistinct, clipFiles, readIfThere, toJsonText } from '../record/files.js';
import { plainText } from '../report/plainText.js';
import { renderSession } from '../report/sessionText.js';
import { renderSummary } from '../report/summaryText.js';
import { noCacheOption } from './cacheCommand.js';
import { type Lane, laneInThisProcess, workerLanes } from './measureLanes.js';
import type { ClipDone, ClipFailed, MeasureCommandOptions } from './measureOne.js';
import { addClipOptions, labelOption, numberOption, wholeOption, windowOption } from './options.js';
import type { Terminal } from './terminal.js';

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
    .option(
      '--jobs <n>',
      'clips of a folder that are measured at a time (default: the number of cores)',
      wholeOption('--jobs', 1, 256),
    )
    .option('--camera <file>', 'a camera file of lagreel calibrate: gives the row readout')
    .option('--out <folder>', 'write all results there instead of beside the clip')
    .option(
      '--update-recipe',
      'write NAME.recipe.json even where there is one, with the options of this call',
    )
    .option('--again', 'measure the clips of a folder that were measured in the same way before, too')
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

/** A clip that could not be measured, by its path. */
interface FailedClip extends ClipFailed {
  readonly clip: string;
}

async function measureAll(
  paths: readonly string[],
  options: MeasureCommandOptions,
  terminal: Terminal,
  signal: AbortSignal,
): Promise<number> {
  const { clips, fromFolder } = await clipsOf(paths);
  checkDistinct(clips, options.out);
  const camera = options.camera === undefined ? null : await readCameraFile(options.camera);
  const rowOf = await sessionRows(clips, options, terminal);
  const results = clips.map((clip) => clipFiles(clip, options.out));
  const folders = new Set(results.flatMap(({ record, history }) => [dirname(record), history]));
  for (const folder of folders) await removeLeftovers(folder);
  const jobs = fromFolder ? Math.min(options.jobs ?? availableParallelism(), clips.length) : 1;
  const lanes =
    jobs > 1
      ? workerLanes(jobs, { options, camera }, terminal, signal)
      : [laneInThisProcess({ options, camera }, terminal, signal)];
  const run = { clips, fromFolder, rowOf, lanes };
  try {
    if (jobs === 1 || options.out === undefined) return await measureClips(run, options, terminal, signal);
    // Made here, since of several workers none could tell whether the folder is its own to take away.
    return await inWritableFolder(options.out, 'choose another folder with --out FOLDER', async () => {
      const code = await measureClips(run, options, terminal, signal);
      if ((await readdir(options.out!)).length === 0) throw new NothingWritten(code);
      return code;
    });
  } catch (error) {
    if (error instanceof NothingWritten) return error.exitCode;
    throw error;
  } finally {
    await Promise.all(lanes.map((lane) => lane.close()));
    // What a worker had begun when it was ended.
    if (signal.aborted) for (const folder of folders) await removeLeftovers(folder);
  }
}

/** No clip gave a result: a folder that was made for results goes again. */
class NothingWritten extends Error {
  constructor(readonly exitCode: number) {
    super('no clip gave a result');
  }
}

/** The clips of one call, and who measures them. */
interface ClipRun {
  readonly clips: readonly string[];
  readonly fromFolder: boolean;
  readonly rowOf: (clip: string) => SessionClip | undefined;
  readonly lanes: readonly Lane[];
}

async function measureClips(
  { clips, fromFolder, rowOf, lanes }: ClipRun,
  options: MeasureCommandOptions,
  terminal: Terminal,
  signal: AbortSignal,
): Promise<number> {
  // In the order of the clips, whichever is done first. Only what the table at the end shows is kept of each.
  const done = new Map<string, ClipDone>();
  const failed = new Map<string, FailedClip>();
  const quiet = options.quiet ?? false;
  await eachOf(clips, lanes, async (clip, lane) => {
    signal.throwIfAborted();
    const row = rowOf(clip);
    const ended = await lane.measure({ clip, ...(row ? { row } : {}), resume: fromFolder && !options.again });
    if ('error' in ended) {
      // The other clips go on; one sentence each.
      terminal.err(`lagreel: ${ended.error}\n`);
      failed.set(clip, { clip, ...ended });
    } else {
      sayResult(ended, { ...options, quiet: quiet || fromFolder }, terminal, clips.length > 1);
      done.set(clip, { ...ended, record: { ...ended.record, presses: [], unprompted: [], warnings: [] } });
    }
    if (fromFolder && !quiet) {
      const how = 'error' in ended ? ', failed' : ended.skipped ? ', measured before' : '';
      terminal.err(
        `${done.size + failed.size} of ${clips.length} clips: ${plainText(basename(clip))}${how}\n`,
      );
    }
  });
  const measured = clips.flatMap((clip) => done.get(clip) ?? []);
  const faults = clips.flatMap((clip) => failed.get(clip) ?? []);
  const skipped = measured.filter((d) => d.skipped);
  const listed = fromFolder || clips.length > 1;
  if (options.json && listed) await printRecords(measured, faults, terminal);
  else if (options.json && faults.length === 0) terminal.out(await readText(measured[0]!.files.record));
  else if (fromFolder && !quiet) {
    const records = measured.map((d) => d.record);
    terminal.out(renderSession(records, terminal));
    if (skipped.length > 0) {
      terminal.out(
        `${skipped.length} of them measured before and left as they are; --again measures them, too.\n`,
      );
    }
  }
  if (listed && faults.length > 0) {
    terminal.err(
      `lagreel: ${faults.length} of ${clips.length} clips failed: ${faults.map((f) => plainText(f.clip)).join(', ')}\n`,
    );
  }
  return exitCodeOf(measured, faults, fromFolder);
}

/** The records one after another from their files, as one document: thousands would not fit into memory at once. */
async function printRecords(
  done: readonly ClipDone[],
  failed: readonly FailedClip[],
  terminal: Terminal,
): Promise<void> {
  terminal.out('{\n  "format": "lagreel-records",\n  "version": 1,\n  "records": [');
  for (const [i, { files }] of done.entries()) {
    const text = (await readText(files.record)).trimEnd().replaceAll('\n', '\n    ');
    terminal.out(`${i > 0 ? ',' : ''}\n    ${text}`);
  }
  const skipped = done.filter((d) => d.skipped).map((d) => d.record.clip.file);
  const rest = toJsonText({ failed, skipped }).slice(1);
  terminal.out(`${done.length > 0 ? '\n  ' : ''}],${rest}`);
}

async function readText(path: string): Promise<string> {
  return (await readIfThere(path)) ?? '';
}

/** Of a folder, 4 where anything in it failed: the others are measured. Of named clips, the gravest. */
function exitCodeOf(done: readonly ClipDone[], failed: readonly FailedClip[], fromFolder: boolean): number {
  const codes = [
    ...failed.map((f) => f.exitCode),
    ...done.map((d) => (d.record.fitness.class === 'unfit' ? 4 : 0)),
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
  const tables = new Map<string, ReadonlyMap<string, SessionClip>>();
  const names = new Set(clips.map((clip) => basename(clip)));
  for (const path of new Set(clips.map(tableOf))) {
    const table = await readSession(path);
    if (table === null && named !== null)
      throw new UsageError(`there is no session table ${named}: check the path`);
    tables.set(path, new Map((table ?? []).map((row) => [row.file, row])));
    const missing = (table ?? []).filter((row) => !names.has(row.file));
    // One clip of a folder may well be measured alone.
    if (clips.length > 1 && missing.length > 0) {
      terminal.err(
        `lagreel: ${plainText(basename(path))} names ${missing.map((row) => plainText(row.file)).join(', ')}, not among the clips\n`,
      );
    }
  }
  return (clip) => tables.get(tableOf(clip))!.get(basename(clip));
}

/** Runs a job on each item, one at a time in each lane; the first error stops what has not begun. */
async function eachOf<T>(
  items: readonly T[],
  lanes: readonly Lane[],
  job: (item: T, lane: Lane) => Promise<void>,
): Promise<void> {
  let next = 0;
  let stopped = false;
  const work = async (lane: Lane): Promise<void> => {
    while (!stopped && next < items.length) {
      const item = items[next]!;
      next += 1;
      try {
        await job(item, lane);
      } catch (error) {
        stopped = true;
        throw error;
      }
    }
  };
  const ended = await Promise.allSettled(lanes.map(work));
  const fault = ended.find((w) => w.status === 'rejected');
  if (fault) throw fault.reason;
}

/** The answer first, then where it is written down; in a quiet or JSON run only that a clip is unfit, and why. */
function sayResult(
  { record, files, recipeWritten }: ClipDone,
  options: MeasureCommandOptions,
  terminal: Terminal,
  named: boolean,
): void {
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
