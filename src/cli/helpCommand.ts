/** `lagreel help [TOPIC]`: the help of a command, or a topic. */
import { Argument, Command } from 'commander';
import { UsageError } from '../errors.js';
import type { Terminal } from './terminal.js';
import { TOPICS, topicText } from './topics.js';

/** The command; topics and commands share their names' space. */
export function helpCommand(terminal: Terminal): Command {
  const topics = Object.entries(TOPICS).map(([name, { about }]) => `  ${name.padEnd(12)} ${about}`);
  return new Command('help')
    .description(
      'Show the help of a command, or a topic such as filming, method, files, exit-codes, changes.',
    )
    .addArgument(new Argument('[topic]', 'a command or a topic'))
    .addHelpText(
      'after',
      `
Topics:
${topics.join('\n')}

Examples:
  lagreel help filming
  lagreel help measure`,
    )
    .action(async (topic: string | undefined, _: unknown, command: Command) => {
      const program = command.parent!;
      const of = topic === undefined ? program : program.commands.find((c) => c.name() === topic);
      if (of) of.outputHelp();
      else if (topic !== undefined && Object.hasOwn(TOPICS, topic)) {
        terminal.out(await topicText(topic, terminal.width));
      } else {
        const names = Object.keys(TOPICS).join(', ');
        throw new UsageError(`there is no command or topic "${topic}": topics are ${names}`);
      }
    });
}
