/** `lagreel measure`: clips in, record, table and report beside them. */
import { Command, Option } from 'commander';
import { type MeasuredFile, measureFile, readCameraFile } from '../node.js';
import { checkDistinct, toJsonText } from '../record/files.js';
import { plainText } from '../report/plainText.js';
import { renderSummary } from '../report/summaryText.js';
import {
  addClipOptions,
  type ClipOptions,
  labelOption,
  numberOption,
  overlayOptions,
  recipePathOf,
  windowOption,
} from './options.js';
import { describeError, isExpected, progressLine, type Terminal } from './terminal.js';

/** Options of the command beside those that describe the clip. */
interface MeasureCommandOptions extends ClipOptions {
  readonly out?: string;
  readonly camera?: string;
  readonly updateRecipe?: boolean;
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
      .argument('<clip...>', 'clips from the camera'),
  )
    .option('--level <share>', 'response level of the headline onset', numberOption('--level', 0.01, 0.99))
    .option('--window <from:to>', 'response window after the press, ms', windowOption)
    .addOption(new Option('--edge <edge>', 'which LED edge is the press').choices(['press', 'release']))
    .option('--label <key=value>', 'a label of the chain (may be repeated)', labelOption)
    .option('--camera <file>', 'a camera file of lagreel calibrate: gives the row readout')
    .option('--out <folder>', 'write all results there instead of beside the clip')
    .option(
      '--update-recipe',
      'write NAME.recipe.json even where there is one, with the options of this call',
    )
    .option('--json', 'print the record as one JSON document (several clips: a list of records)')
    .option('--quiet', 'no progress and no summary; files and errors only')
    .addHelpText(
      'after',
      `
Examples:
  lagreel measure bench/birch-240p.mp4
  lagreel measure clip.mp4 --refresh 60 --region led=led:40,300,24,24 --region top=screen:600,80,320,40 --json`,
    )
    .action(async (clips: string[], options: MeasureCommandOptions) => {
      finish(await measureAll(clips, options, terminal, signal));
    });
}

async function measureAll(
  clips: readonly string[],
  options: MeasureCommandOptions,
  terminal: Terminal,
  signal: AbortSignal,
): Promise<number> {
  checkDistinct(clips, options.out);
  const camera = options.camera === undefined ? undefined : await readCameraFile(options.camera);
  const done: MeasuredFile[] = [];
  const failed: { clip: string; error: string; exitCode: number }[] = [];
  for (const clip of clips) {
    const progress = progressLine(terminal, { quiet: options.quiet ?? false, file: clip });
    try {
      const result = await measureFile(clip, {
        ...recipePathOf(options),
        ...(options.out !== undefined ? { outFolder: options.out } : {}),
        ...(camera ? { camera } : {}),
        updateRecipe: options.updateRecipe ?? false,
        adjustRecipe: (recipe) => overlayOptions(recipe, options),
        signal,
        onProgress: ({ stage, framesDone, framesTotal }) => progress.update(stage, framesDone, framesTotal),
      }).finally(() => progress.clear());
      done.push(result);
      sayResult(result, options, terminal, clips.length > 1);
    } catch (error) {
      // The other clips go on, unless the person stopped the run or lagreel itself is at fault.
      if (signal.aborted || !isExpected(error)) throw error;
      const { text, exitCode } = describeError(error, clip);
      terminal.err(`lagreel: ${text}\n`);
      failed.push({ clip, error: text, exitCode });
    }
  }
  if (options.json && (clips.length > 1 || failed.length === 0)) {
    terminal.out(toJsonText(clips.length > 1 ? recordsOf(done, failed) : done[0]!.measurement.record));
  }
  if (clips.length > 1 && failed.length > 0) {
    terminal.err(
      `lagreel: ${failed.length} of ${clips.length} clips failed: ${failed.map((f) => plainText(f.clip)).join(', ')}\n`,
    );
  }
  const codes = [
    ...failed.map((f) => f.exitCode),
    ...done.map((d) => (d.measurement.record.fitness.class === 'unfit' ? 4 : 0)),
  ];
  return Math.max(0, ...codes);
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
