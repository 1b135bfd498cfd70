/** The command line: picks the command, turns errors into one sentence and an exit code, and Ctrl-C into a clean stop. */
import { Command, CommanderError } from 'commander';
import { plainText } from '../report/plainText.js';
import { version } from '../version.js';
import { describeError, processTerminal, STOPPED, type Terminal, withoutLongWords } from './terminal.js';

type Finish = (code: number) => void;
type MakeCommand = (terminal: Terminal, signal: AbortSignal, finish: Finish) => Command;

/** Each command in a file of its own, which is read when it is asked for: what one needs is slow to load for another. */
const COMMANDS: Readonly<Record<string, () => Promise<MakeCommand>>> = {
  inspect: async () => (await import('./inspectCommand.js')).inspectCommand,
  measure: async () => (await import('./measureCommand.js')).measureCommand,
  calibrate: async () => (await import('./calibrateCommand.js')).calibrateCommand,
  compare: async () => (await import('./compareCommand.js')).compareCommand,
  plan: async () => (await import('./planCommand.js')).planCommand,
  board: async () => (await import('./boardCommand.js')).boardCommand,
  card: async () => (await import('./cardCommand.js')).cardCommand,
  annotate: async () => (await import('./annotateCommand.js')).annotateCommand,
  recheck: async () => (await import('./recheckCommand.js')).recheckCommand,
  desk: async () => (await import('./deskCommand.js')).deskCommand,
  cache: async () => (await import('./cacheCommand.js')).cacheCommand,
  simulate: async () => (await import('./simulateCommand.js')).simulateCommand,
  completion: async () => (await import('./completionCommand.js')).completionCommand,
  help: async () => (await import('./helpCommand.js')).helpCommand,
};
/** These speak of the others. */
const NEEDS_ALL = ['completion', 'help'];
const VERSION_FLAGS = ['-V', '--version'];

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
  const finish: Finish = (code) => {
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
  program.helpCommand(false);
  for (const load of commandsFor(argv[0] ?? '')) {
    program.addCommand((await load())(terminal, controller.signal, finish));
  }
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

/** The command that is asked for, or all where help may be needed. */
function commandsFor(asked: string): (() => Promise<MakeCommand>)[] {
  if (VERSION_FLAGS.includes(asked)) return [];
  const alone = Object.hasOwn(COMMANDS, asked) && !NEEDS_ALL.includes(asked);
  return alone ? [COMMANDS[asked]!] : Object.values(COMMANDS);
}

/** One line for a wrong command line, from the parser's own message. */
function usageSentence(message: string, help: string): string {
  const said = message
    .trim()
    .replace(/^error: /, '')
    .replace(/\s+/g, ' ')
    .replace(/\.$/, '');
  return `lagreel: ${plainText(withoutLongWords(said))}; ${help} shows what is possible\n`;
}
