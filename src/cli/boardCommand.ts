/** `lagreel board`: all groups of a comparison, ranked, as a page and as tables. */
import { Command, InvalidArgumentError } from 'commander';
import { boardFiles } from '../node.js';
import { toJsonText } from '../record/files.js';
import { plainText } from '../report/plainText.js';
import type { Terminal } from './terminal.js';

interface BoardCommandOptions {
  readonly output: string;
  readonly json?: boolean;
  readonly quiet?: boolean;
}

/** The command. */
export function boardCommand(
  terminal: Terminal,
  _signal: AbortSignal,
  finish: (code: number) => void,
): Command {
  return new Command('board')
    .description('Rank the groups of a comparison on one page, and as Markdown, CSV and JSON beside it.')
    .argument('<comparison>', 'comparison.json, as lagreel compare --out writes it')
    .requiredOption('-o, --output <file>', 'the page to write, NAME.html', pageOption)
    .option('--json', 'print the rows as one JSON document')
    .option('--quiet', 'files and errors only')
    .addHelpText(
      'after',
      `
Examples:
  lagreel board bench/comparison.json -o bench/board.html
  lagreel board comparison.json -o board.html --json`,
    )
    .action(async (comparison: string, options: BoardCommandOptions) => {
      const made = await boardFiles(comparison, options.output);
      if (options.json) terminal.out(toJsonText(made.board));
      else if (!options.quiet) {
        const lines = [
          ['Board', made.html],
          ['Tables', `${made.markdown}, ${made.csv}, ${made.json}`],
        ];
        terminal.out(lines.map(([what, where]) => `${what!.padEnd(8)} ${plainText(where!)}\n`).join(''));
      }
      finish(0);
    });
}

function pageOption(text: string): string {
  if (/[^/\\]\.html$/.test(text)) return text;
  throw new InvalidArgumentError(`a board is written as NAME.html, got "${text}".`);
}
