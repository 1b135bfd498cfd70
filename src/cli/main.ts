/** The command line: picks the command, turns errors into one sentence and an exit code, and Ctrl-C into a clean stop. */
import { Command, CommanderError } from 'commander';
import { plainText } from '../report/plainText.js';
import { version } from '../version.js';
import { annotateCommand } from './annotateCommand.js';
import { boardCommand } from './boardCommand.js';
import { cacheCommand } from './cacheCommand.js';
import { calibrateCommand } from './calibrateCommand.js';
import { cardCommand } from './cardCommand.js';
import { compareCommand } from './compareCommand.js';
import { completionCommand } from './completionCommand.js';
import { deskCommand } from './deskCommand.js';
import { helpCommand } from './helpCommand.js';
import { inspectCommand } from './inspectCommand.js';
import { measureCommand } from './measureCommand.js';
import { planCommand } from './planCommand.js';
import { recheckCommand } from './recheckCommand.js';
import { simulateCommand } from './simulateCommand.js';
import { describeError, processTerminal, STOPPED, type Terminal } from './terminal.js';

/**
 * Runs one command.
 * @param argv arguments without the program's name.
 * @returns the exit code: 0 done, 1 a fault of lagreel, 2 wrong usage, 3 unreadable input, 4 nothing measurable,
 *   5 `recheck` found a drift, 130 stopped.
 */
export async function run(argv: readonly string[], terminal: Terminal = processTerminal()): Promise<number> {
  const controller = new AbortController();
  const stop = () => {
    // Asked a second time, there is no waiting for a clean end; FFmpeg goes with the process all the same.
    if (controller.signal.aborted) process.exit(STOPPED.exitCode);
    controller.abort();
  };
  // Not `once`: the guard over FFmpeg ends the process itself where it finds no other listener left.
  process.on('SIGINT', stop);
  process.on('SIGTERM', stop);
  let exitCode = 0;
  const finish = (code: number) => {
    exitCode = code;
  };
  const program = new Command('lagreel')
    .description(
      'Times light in phone footage: from a clip of a button LED and a screen to a latency distribution.',
    )
    .version(version)
    .addHelpText(
      'after',
      `
Examples:
  lagreel inspect clip.mp4
  lagreel measure clip.mp4 --refresh 60

lagreel COMMAND --help shows the options of a command, lagreel help --help the topics of help.

Exit codes: 0 done, 1 a fault of lagreel, 2 wrong usage, 3 unreadable input, 4 nothing measurable,
5 recheck found a drift, 130 stopped.`,
    );
  program.addCommand(inspectCommand(terminal, controller.signal, finish));
  program.addCommand(measureCommand(terminal, controller.signal, finish));
  program.addCommand(calibrateCommand(terminal, controller.signal, finish));
  program.addCommand(compareCommand(terminal, controller.signal, finish));
  program.addCommand(planCommand(terminal, controller.signal, finish));
  program.addCommand(boardCommand(terminal, controller.signal, finish));
  program.addCommand(cardCommand(terminal, controller.signal, finish));
  program.addCommand(annotateCommand(terminal, controller.signal, finish));
  program.addCommand(recheckCommand(terminal, controller.signal, finish));
  program.addCommand(deskCommand(terminal, controller.signal, finish));
  program.addCommand(cacheCommand(terminal, controller.signal, finish));
  program.addCommand(simulateCommand(terminal, controller.signal, finish));
  program.addCommand(completionCommand(terminal));
  program.helpCommand(false).addCommand(helpCommand(terminal));
  for (const command of [program, ...program.commands]) {
    command.exitOverride();
    const help = command === program ? 'lagreel --help' : `lagreel ${command.name()} --help`;
    command.configureOutput({
      writeOut: terminal.out,
      writeErr: terminal.err,
      outputError: (message, write) => write(usageSentence(message, help)),
    });
  }
  try {
    await program.parseAsync([...argv], { from: 'user' });
    return exitCode;
  } catch (error) {
    if (error instanceof CommanderError) return error.exitCode === 0 ? 0 : 2;
    // A run that is being stopped may end with any error: the same Ctrl-C reaches FFmpeg too.
    const { text, exitCode: code } = controller.signal.aborted ? STOPPED : describeError(error);
    terminal.err(`lagreel: ${text}\n`);
    return code;
  } finally {
    process.removeListener('SIGINT', stop);
    process.removeListener('SIGTERM', stop);
  }
}

/** One line for a wrong command line, from the parser's own message. */
function usageSentence(message: string, help: string): string {
  const said = message
    .trim()
    .replace(/^error: /, '')
    .replace(/\s+/g, ' ')
    .replace(/\.$/, '');
  return `lagreel: ${plainText(said)}; ${help} shows what is possible\n`;
}
