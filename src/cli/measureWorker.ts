/** The program of a worker process of `measure`: settings and clips come as messages; goes with the process that started it. */
import type { FromWorker, ToWorker } from './measureLanes.js';
import { type MeasureSettings, measureOne } from './measureOne.js';
import type { Terminal } from './terminal.js';

const controller = new AbortController();
let settings: MeasureSettings | null = null;
let isBusy = false;

const tell = (message: FromWorker): void => {
  if (process.connected) process.send!(message, () => undefined);
};
const terminal: Terminal = {
  out: () => undefined,
  err: (words) => tell({ words }),
  colour: false,
  width: 100,
  live: false,
};
const stop = (): void => {
  controller.abort();
  if (!isBusy) process.exit(130);
};

// Ctrl-C reaches the workers, too. Without the process that started it nobody wants the answer.
for (const way of ['SIGINT', 'SIGTERM', 'disconnect'] as const) process.on(way, stop);

process.on('message', async (message: ToWorker) => {
  if ('settings' in message) {
    settings = message.settings;
    return;
  }
  isBusy = true;
  try {
    tell({
      ended: await measureOne(message.job, settings!, terminal, { signal: controller.signal, quiet: true }),
    });
  } catch (error) {
    if (!controller.signal.aborted) {
      tell({ fault: error instanceof Error ? (error.stack ?? error.message) : String(error) });
    }
  }
  isBusy = false;
  if (controller.signal.aborted) process.exit(130);
});
