/** `lagreel annotate`: a clip slowed down, with counter, regions and trace, for people to watch. */
import { Command, InvalidArgumentError } from 'commander';
import { type AnnotatedFile, annotateFile } from '../node.js';
import { toJsonText } from '../record/files.js';
import { plainText } from '../report/plainText.js';
import { numberOption, wholeOption } from './options.js';
import { describeError, isExpected, progressLine, type Terminal } from './terminal.js';

interface AnnotateCommandOptions {
  readonly output: string;
  readonly press?: number;
  readonly all?: boolean;
  readonly screen?: string;
  readonly slow: number;
  readonly keepSpeed?: boolean;
  readonly record?: string;
  readonly json?: boolean;
  readonly quiet?: boolean;
}

/** The command. */
export function annotateCommand(
  terminal: Terminal,
  signal: AbortSignal,
  finish: (code: number) => void,
): Command {
  return new Command('annotate')
    .description('Show presses in slow motion, with a millisecond counter, the regions and the traces.')
    .argument('<clip>', 'a clip; its record is taken from beside it, or measured now')
    .requiredOption('-o, --output <file>', 'the film to write: NAME.mp4, NAME.gif or NAME.webp', filmOption)
    .option(
      '--press <n>',
      'number of the press (default: the one nearest the median)',
      wholeOption('--press', 1, 100_000),
    )
    .option('--all', 'all presses, one after another')
    .option('--screen <name>', 'the screen region whose answer is counted (default: the first that answers)')
    .option('--slow <factor>', 'how much slower than life', numberOption('--slow', 1, 64), 8)
    .option('--keep-speed', 'keep that speed even where the film flashes; it then begins with a caution')
    .option('--record <file>', 'a record elsewhere than beside the clip')
    .option('--json', 'print what was made as one JSON document')
    .option('--quiet', 'no progress and no summary; warnings and errors only')
    .addHelpText(
      'after',
      `
Examples:
  lagreel annotate clip.mp4 -o film.mp4
  lagreel annotate clip.mp4 --all --slow 16 -o all-presses.mp4

A film that would flash more than three times in a second (WCAG 2.3.1) is slowed down until it does not.`,
    )
    .action(async (clip: string, options: AnnotateCommandOptions) => {
      const progress = progressLine(terminal, { quiet: options.quiet ?? false, file: clip });
      let made: AnnotatedFile;
      try {
        made = await annotateFile(
          clip,
          options.output,
          {
            press: options.all ? 'all' : (options.press ?? 'typical'),
            slow: options.slow,
            keepSpeed: options.keepSpeed ?? false,
            ...(options.screen !== undefined ? { region: options.screen } : {}),
          },
          {
            signal,
            ...(options.record !== undefined ? { recordPath: options.record } : {}),
            onProgress: progress.update,
          },
        ).finally(() => progress.clear());
      } catch (error) {
        if (signal.aborted || !isExpected(error)) throw error;
        const { text, exitCode } = describeError(error, clip);
        terminal.err(`lagreel: ${text}\n`);
        return finish(exitCode);
      }
      for (const warning of made.warnings) terminal.err(`lagreel: ${plainText(warning)}\n`);
      if (options.json) terminal.out(toJsonText(made));
      else if (!options.quiet) terminal.out(summary(made, options.output));
      finish(0);
    });
}

/** Three formats can be written; another ending would be a wrong promise. */
function filmOption(text: string): string {
  if (/[^/\\]\.(mp4|gif|webp)$/i.test(text)) return text;
  throw new InvalidArgumentError(`a film is written as NAME.mp4, NAME.gif or NAME.webp, got "${text}".`);
}

function summary(made: AnnotatedFile, path: string): string {
  const { presses } = made;
  const which = presses.length === 1 ? `press ${presses[0]}` : `${presses.length} presses`;
  const flashes =
    made.flashesPerS === 0
      ? 'without flashes'
      : `at most ${made.flashesPerS} ${made.flashesPerS <= 1 ? 'flash' : 'flashes'} in a second`;
  return `Film: ${plainText(path)}\n${which}, ${made.slow} times slower, ${made.durationS.toFixed(1)} s, ${made.widthPx} x ${made.heightPx} px, ${flashes}\n`;
}
