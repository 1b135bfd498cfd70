/** `lagreel completion SHELL`: the script by which a shell completes commands, options and choices. */
import { Argument, Command } from 'commander';
import { completionScript, SHELLS, type Shell } from './completionScript.js';
import type { Terminal } from './terminal.js';

/** The command. */
export function completionCommand(terminal: Terminal): Command {
  return new Command('completion')
    .description('Print the script by which a shell completes commands and options.')
    .addArgument(new Argument('<shell>', 'the shell').choices([...SHELLS]))
    .addHelpText(
      'after',
      `
Examples:
  lagreel completion bash
  lagreel completion fish`,
    )
    .action((shell: Shell, _: unknown, command: Command) => {
      terminal.out(completionScript(command.parent!, shell));
    });
}
