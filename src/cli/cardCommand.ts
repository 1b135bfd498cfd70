/** `lagreel card`: one chain or the board as a picture for a video or a post. */
import { Command, InvalidArgumentError } from 'commander';
import { cardFile } from '../node.js';
import { toJsonText } from '../record/files.js';
import { plainText } from '../report/plainText.js';
import type { Terminal } from './terminal.js';

interface CardCommandOptions {
  readonly output: string;
  readonly tall?: boolean;
  readonly dark?: boolean;
  readonly screen?: string;
  readonly json?: boolean;
  readonly quiet?: boolean;
}

/** The command. */
export function cardCommand(
  terminal: Terminal,
  _signal: AbortSignal,
  finish: (code: number) => void,
): Command {
  return new Command('card')
    .description('Draw a card, PNG: of one chain from a record, of all groups from a comparison.')
    .argument('<file>', 'NAME.record.json or comparison.json')
    .requiredOption('-o, --output <file>', 'the picture to write, NAME.png', pictureOption)
    .option('--tall', '1080 x 1920 px for a phone (default: 1920 x 1080)')
    .option('--dark', 'light letters on a dark ground')
    .option('--screen <name>', 'screen region of a record (default: the first that answers)')
    .option('--json', 'print what was made as one JSON document')
    .option('--quiet', 'files and errors only')
    .addHelpText(
      'after',
      `
Examples:
  lagreel card bench/birch-240p.record.json -o birch.png
  lagreel card bench/comparison.json --tall --dark -o board.png`,
    )
    .action(async (file: string, options: CardCommandOptions) => {
      const made = await cardFile(file, options.output, {
        shape: options.tall ? 'tall' : 'wide',
        theme: options.dark ? 'dark' : 'light',
        ...(options.screen !== undefined ? { region: options.screen } : {}),
      });
      if (options.json) terminal.out(toJsonText(made));
      else if (!options.quiet)
        terminal.out(
          `Card: ${plainText(options.output)} (${made.kind}, ${made.widthPx} x ${made.heightPx} px)\n`,
        );
      finish(0);
    });
}

function pictureOption(text: string): string {
  if (/[^/\\]\.png$/.test(text)) return text;
  throw new InvalidArgumentError(`a card is written as NAME.png, got "${text}".`);
}
