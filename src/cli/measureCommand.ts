/** `lagreel measure`: clips in, record, table and report beside them. */
import { dirname } from 'node:path';
import { Command, Option } from 'commander';
import { AnalysisError } from '../errors.js';
import { type MeasuredFile, measureFile } from '../node.js';
import { renderSummary } from '../report/summaryText.js';
import {
  type ClipOptions,
  labelOption,
  numberOption,
  overlayOptions,
  regionOption,
  windowOption,
} from './options.js';
import { describeError, isAbort, progressLine, type Terminal } from './terminal.js';

/** Options of the command beside those that describe the clip. */
interface MeasureCommandOptions extends ClipOptions {
  readonly recipe?: string;
  readonly out?: string;
  readonly updateRecipe?: boolean;
  readonly json?: boolean;
  readonly quiet?: boolean;
}

/** Adds the options that say what is known about a clip. */
export function addClipOptions(command: Command): Command {
  return command
    .option(
      '--region <name=role:x,y,w,h>',
      'a region in pixels of the upright picture (may be repeated)',
      regionOption,
    )
    .option('--refresh <hz>', 'refresh rate of the display under test', numberOption('--refresh', 1, 1000))
    .option('--capture-rate <hz>', 'true rate while filming', numberOption('--capture-rate', 20, 4000))
    .option(
      '--exposure <fraction>',
      'shutter open time over capture period',
      numberOption('--exposure', 0.005, 1),
    )
    .option(
      '--readout <fraction>',
      'time from the first to the last sensor row over capture period',
      numberOption('--readout', 0, 1),
    );
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
      .argument('<clip...>', 'clips from the camera')
      .option('--recipe <file>', "a person's decisions (default: NAME.recipe.json beside the clip)"),
  )
    .option('--level <share>', 'response level of the headline onset', numberOption('--level', 0.01, 0.99))
    .option('--window <from:to>', 'response window after the press, ms', windowOption)
    .addOption(new Option('--edge <edge>', 'which LED edge is the press').choices(['press', 'release']))
    .option('--label <key=value>', 'a label of the chain (may be repeated)', labelOption)
    .option('--out <folder>', 'write all results there instead of beside the clip')
    .option('--update-recipe', 'write the recipe again with the options of this call')
    .option('--json', 'print the record as one JSON document')
    .option('--quiet', 'no progress and no summary')
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
  const done: MeasuredFile[] = [];
  const failed: { clip: string; error: string; exitCode: number }[] = [];
  for (const clip of clips) {
    const progress = progressLine(terminal, options.quiet ?? false, clip);
    try {
      const result = await measureFile(clip, {
        ...(options.recipe !== undefined ? { recipePath: options.recipe } : {}),
        ...(options.out !== undefined ? { outFolder: options.out } : {}),
        updateRecipe: options.updateRecipe ?? false,
        adjustRecipe: (recipe) => overlayOptions(recipe, options),
        signal,
        onProgress: ({ stage, framesDone, framesTotal }) => progress.update(stage, framesDone, framesTotal),
      });
      progress.clear();
      done.push(result);
      if (!options.json && !options.quiet) {
        terminal.out(renderSummary(result.measurement.record, terminal));
        terminal.out(`\nReport: ${result.files.report}\nAll files are in ${dirname(result.files.record)}\n`);
      }
    } catch (error) {
      progress.clear();
      // One clip alone: the caller says it. Several: the others go on, unless the person stopped the run.
      if (clips.length === 1 || isAbort(error) || !(error instanceof AnalysisError)) throw error;
      const { text, exitCode } = describeError(error);
      terminal.err(`lagreel: ${text}\n`);
      failed.push({ clip, error: text, exitCode });
    }
  }
  if (options.json) terminal.out(`${jsonOf(clips.length, done, failed)}\n`);
  else if (failed.length > 0) {
    terminal.err(
      `${failed.length} of ${clips.length} clips failed: ${failed.map((f) => f.clip).join(', ')}\n`,
    );
  }
  const codes = [
    ...failed.map((f) => f.exitCode),
    ...done.map((d) => (d.measurement.record.fitness.class === 'unfit' ? 4 : 0)),
  ];
  return Math.max(0, ...codes);
}

function jsonOf(asked: number, done: readonly MeasuredFile[], failed: readonly unknown[]): string {
  if (asked === 1) return JSON.stringify(done[0]!.measurement.record, null, 2);
  return JSON.stringify(
    { format: 'lagreel-records', version: 1, records: done.map((d) => d.measurement.record), failed },
    null,
    2,
  );
}
