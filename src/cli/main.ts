/** The command line: picks the command, turns errors into one sentence and an exit code, and Ctrl-C into a clean stop. */
import { Command, CommanderError } from 'commander';
import { version } from '../version.js';
import { inspectCommand } from './inspectCommand.js';
import { measureCommand } from './measureCommand.js';
import { simulateCommand } from './simulateCommand.js';
import { describeError, processTerminal, type Terminal } from './terminal.js';

/**
 * Runs one command.
 * @param argv arguments without the program's name.
 * @returns the exit code: 0 done, 1 a fault of lagreel, 2 wrong usage, 3 unreadable input, 4 nothing measurable, 130 stopped.
 */
export async function run(argv: readonly string[], terminal: Terminal = processTerminal()): Promise<number> {
  const controller = new AbortController();
  const stop = () => controller.abort();
  process.once('SIGINT', stop);
  process.once('SIGTERM', stop);
  let exitCode = 0;
  const finish = (code: number) => {
    exitCode = code;
  };
  const program = new Command('lagreel')
    .description(
      'Times light in phone footage: from a clip of a button LED and a screen to a latency distribution.',
    )
    .version(version)
    .showHelpAfterError('(lagreel --help shows the commands)')
    .addHelpText(
      'after',
      `
Examples:
  lagreel inspect clip.mp4
  lagreel measure clip.mp4 --refresh 60

Exit codes: 0 done, 1 a fault of lagreel, 2 wrong usage, 3 unreadable input, 4 nothing measurable, 5 drift found by recheck.`,
    );
  program.addCommand(inspectCommand(terminal, controller.signal, finish));
  program.addCommand(measureCommand(terminal, controller.signal, finish));
  program.addCommand(simulateCommand(terminal, controller.signal, finish));
  for (const command of [program, ...program.commands]) {
    command.exitOverride();
    command.configureOutput({ writeOut: terminal.out, writeErr: terminal.err });
  }
  try {
    await program.parseAsync([...argv], { from: 'user' });
    return exitCode;
  } catch (error) {
    if (error instanceof CommanderError) return error.exitCode === 0 ? 0 : 2;
    const { text, exitCode: code } = describeError(error);
    terminal.err(`lagreel: ${text}\n`);
    return code;
  } finally {
    process.removeListener('SIGINT', stop);
    process.removeListener('SIGTERM', stop);
  }
}
