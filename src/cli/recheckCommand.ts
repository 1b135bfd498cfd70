/** `lagreel recheck`: an archive measured again, and what moved. */
import { basename } from 'node:path';
import { Command } from 'commander';
import { type FolderCheck, readCameraFile, recheckFolder, renderRecheck } from '../node.js';
import { toJsonText } from '../record/files.js';
import { plainText } from '../report/plainText.js';
import { noCacheOption, samplingOf } from './cacheCommand.js';
import { numberOption } from './options.js';
import { progressLine, type Terminal } from './terminal.js';

interface RecheckCommandOptions {
  readonly tolerance: number;
  readonly clips?: string;
  readonly camera?: string;
  readonly update?: boolean;
  readonly cache?: boolean;
  readonly json?: boolean;
  readonly quiet?: boolean;
}

/** The exit code of a drift, fixed by the design. */
const DRIFTED = 5;

/** The command. */
export function recheckCommand(
  terminal: Terminal,
  signal: AbortSignal,
  finish: (code: number) => void,
): Command {
  return new Command('recheck')
    .description('Measure every clip of an archive again by its recipe, and tell what moved.')
    .argument('<folder>', 'folder of the records, with their clips')
    .option(
      '--tolerance <share>',
      'how far a number may move, as a share of its own standard uncertainty (never less than 0.001 ms)',
      numberOption('--tolerance', 0, 100),
      0.1,
    )
    .option('--clips <folder>', 'folder of the clips, where they do not stand beside their records')
    .option('--camera <file>', 'the camera file by which clips were measured')
    .option('--update', 'write the new results where something moved; the old record goes to NAME.history')
    .addOption(noCacheOption())
    .option('--json', 'print everything that moved as one JSON document')
    .option('--quiet', 'no progress and no words; the exit code and errors only')
    .addHelpText(
      'after',
      `
Examples:
  lagreel recheck bench
  lagreel recheck bench --tolerance 0.5 --update --json`,
    )
    .action(async (folder: string, options: RecheckCommandOptions) => {
      const camera = options.camera === undefined ? undefined : await readCameraFile(options.camera);
      let progress = progressLine(terminal, { quiet: options.quiet ?? false, file: folder });
      const check = await recheckFolder(folder, {
        tolerance: options.tolerance,
        ...(options.clips !== undefined ? { clipFolder: options.clips } : {}),
        ...(camera ? { camera } : {}),
        ...samplingOf(options, terminal),
        update: options.update ?? false,
        signal,
        onClip: (path) => {
          progress.clear();
          progress = progressLine(terminal, { quiet: options.quiet ?? false, file: basename(path) });
        },
        onProgress: ({ stage, framesDone, framesTotal }) => progress.update(stage, framesDone, framesTotal),
      }).finally(() => progress.clear());
      if (options.json) terminal.out(toJsonText(check));
      else if (!options.quiet) terminal.out(linesOf(renderRecheck(check)));
      for (const { record, error } of check.failed) {
        terminal.err(`lagreel: ${plainText(`${record} not checked: ${error}`)}\n`);
      }
      finish(exitCodeOf(check));
    });
}

/** A drift is the answer that was asked for, and stands above what could not be checked. */
function exitCodeOf({ clips, failed }: FolderCheck): number {
  if (clips.some((c) => c.status === 'drifted')) return DRIFTED;
  return Math.max(0, ...failed.map((f) => f.exitCode));
}

/** Names come from files: each line made safe to print. */
function linesOf(text: string): string {
  return text
    .split('\n')
    .map((line) => plainText(line))
    .join('\n');
}
