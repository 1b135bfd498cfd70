/** `lagreel compare`: records in, what each chain adds in words and tables. */
import { Command, Option } from 'commander';
import { ALLOWANCES, type Allowance, type ComparedFiles, compareFiles } from '../node.js';
import type { BudgetStage } from '../record/comparison.js';
import { toJsonText } from '../record/files.js';
import { renderComparison } from '../report/comparisonText.js';
import { plainText } from '../report/plainText.js';
import { keysOption, labelsOption, numberOption, stageOption } from './options.js';
import { describeError, isExpected, type Terminal } from './terminal.js';

interface CompareCommandOptions {
  readonly by: readonly string[];
  readonly baseline?: Readonly<Record<string, string>>;
  readonly margin: number;
  readonly stage?: readonly BudgetStage[];
  readonly allow?: readonly Allowance[];
  /** A path; false for `--no-session`. Commander gives true where neither was said. */
  readonly session?: string | boolean;
  readonly out?: string;
  readonly json?: boolean;
  readonly quiet?: boolean;
}

/** The command. */
export function compareCommand(
  terminal: Terminal,
  signal: AbortSignal,
  finish: (code: number) => void,
): Command {
  return new Command('compare')
    .description('Compare chains by their records: what each adds, whether it wanders, and how sure that is.')
    .argument('<record...>', 'records of lagreel measure (NAME.record.json), or folders of them')
    .option('--by <keys>', 'label keys that make the groups', keysOption, ['chain'])
    .option('--baseline <key=value>', 'labels of the group that the others are held against', labelsOption)
    .option('--margin <ms>', 'differences within this count as none', numberOption('--margin', 0.01, 1000), 1)
    .option(
      '--stage <name=ms+-half>',
      'a stage known from elsewhere, added from thumb to eye (may be repeated)',
      stageOption,
    )
    .addOption(new Option('--allow <what...>', 'compare although this differs').choices([...ALLOWANCES]))
    .option('--session <file>', 'a table of labels (default: session.csv beside the records)')
    .option('--no-session', 'labels of the records alone')
    .option('--out <folder>', 'write comparison.json there')
    .option('--json', 'print the comparison as one JSON document')
    .option('--quiet', 'no summary; files and errors only')
    .addHelpText(
      'after',
      `
Examples:
  lagreel compare bench --by chain --baseline chain=Direct
  lagreel compare bench --by chain,mode --baseline chain=Direct --stage "living-room panel=16.7+-2" --out bench --json`,
    )
    .action(async (records: string[], options: CompareCommandOptions) => {
      let result: ComparedFiles;
      try {
        result = await compareFiles(records, {
          by: options.by,
          baseline: options.baseline ?? null,
          marginMs: options.margin,
          stages: options.stage ?? [],
          allow: options.allow ?? [],
          ...sessionOf(options),
          ...(options.out !== undefined ? { outFolder: options.out } : {}),
        });
      } catch (error) {
        if (signal.aborted || !isExpected(error)) throw error;
        const { text, exitCode } = describeError(error);
        terminal.err(`lagreel: ${text}\n`);
        return finish(exitCode);
      }
      if (options.json) terminal.out(toJsonText(result.comparison));
      else if (!options.quiet) {
        terminal.out(renderComparison(result.comparison, terminal));
        if (result.path !== null) terminal.out(`\nComparison  ${plainText(result.path)}\n`);
      }
      finish(0);
    });
}

function sessionOf({ session }: CompareCommandOptions): { readonly sessionPath?: string | null } {
  if (session === false) return { sessionPath: null };
  return typeof session === 'string' ? { sessionPath: session } : {};
}
