/** `lagreel desk`: a local page for looking, deciding and measuring, until Ctrl-C. */
import { Command } from 'commander';
import { startDesk } from '../desk/server/startDesk.js';
import { toJsonText } from '../record/files.js';
import { plainText } from '../report/plainText.js';
import { cacheOf, noCacheOption } from './cacheCommand.js';
import { wholeOption } from './options.js';
import type { Terminal } from './terminal.js';

interface DeskCommandOptions {
  readonly port: number;
  readonly cache?: boolean;
  readonly json?: boolean;
}

/** The command. */
export function deskCommand(
  terminal: Terminal,
  signal: AbortSignal,
  finish: (code: number) => void,
): Command {
  return new Command('desk')
    .description('Open a local page to see clips, draw regions, measure and judge presses; Ctrl-C ends it.')
    .argument('[folder]', 'folder of the clips', '.')
    .option('--port <n>', 'port on the loopback address (0: a free one)', wholeOption('--port', 0, 65_535), 0)
    .addOption(noCacheOption())
    .option('--json', 'print the address as one JSON document')
    .addHelpText(
      'after',
      `
Examples:
  lagreel desk bench
  lagreel desk --port 8240 --json`,
    )
    .action(async (folder: string, options: DeskCommandOptions) => {
      const cache = cacheOf(options, terminal);
      const desk = await startDesk(folder, { port: options.port, ...(cache ? { cache } : {}) });
      if (options.json) {
        terminal.out(
          toJsonText({ format: 'lagreel-desk', version: 1, address: desk.address, port: desk.port }),
        );
      } else {
        terminal.out(
          `The desk for ${plainText(folder)} is open at\n\n  ${desk.address}\n\n` +
            'Open it in a browser on this machine. The address is good for this run only; Ctrl-C ends the desk.\n',
        );
      }
      await new Promise<void>((resolve) => {
        if (signal.aborted) resolve();
        signal.addEventListener('abort', () => resolve(), { once: true });
      });
      await desk.close();
      finish(0);
    });
}
