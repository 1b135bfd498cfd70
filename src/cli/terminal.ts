/** What every command shares at the terminal: streams, colour, progress, and the sentence for every kind of error. */
import { AnalysisError, UsageError } from '../errors.js';
import { plainText } from '../report/plainText.js';

/** Where words go. Results to `out`, progress and warnings to `err`. */
export interface Terminal {
  readonly out: (text: string) => void;
  readonly err: (text: string) => void;
  readonly colour: boolean;
  readonly width: number;
  /** True where progress can be drawn over itself. */
  readonly live: boolean;
}

/** The real streams. */
export function processTerminal(): Terminal {
  const { stdout, stderr, env } = process;
  // A reader that closes the pipe early (head) is no fault.
  stdout.on('error', (error: NodeJS.ErrnoException) => {
    if (error.code === 'EPIPE') process.exit(0);
    throw error;
  });
  return {
    out: (text) => stdout.write(text),
    err: (text) => stderr.write(text),
    colour: Boolean(stdout.isTTY) && !env.NO_COLOR,
    width: Math.min(120, stdout.columns ?? 100),
    live: Boolean(stderr.isTTY),
  };
}

/** Shows frames done, rate and time left; over itself on a terminal, else a line every tenth. */
export function progressLine(terminal: Terminal, quiet: boolean, what: string) {
  const startedMs = performance.now();
  let lastTenth = 0;
  let lastStage = '';
  let drawn = 0;
  return {
    update(stage: string, done: number, total: number | null): void {
      if (quiet) return;
      if (stage !== lastStage) {
        lastStage = stage;
        lastTenth = 0;
      }
      const seconds = Math.max(0.001, (performance.now() - startedMs) / 1000);
      const rate = done / seconds;
      const left = total === null ? '' : `, ${Math.max(0, (total - done) / rate).toFixed(0)} s left`;
      const share = total === null ? `${done} frames` : `${done} of ${total} frames`;
      const text = `${plainText(what)}: ${stage}, ${share}, ${rate.toFixed(0)} a second${left}`;
      if (terminal.live) {
        terminal.err(`\r${text.padEnd(drawn)}`);
        drawn = text.length;
        return;
      }
      const tenth = total === null ? Math.floor(done / 1000) : Math.floor((10 * done) / total);
      if (tenth > lastTenth) {
        lastTenth = tenth;
        terminal.err(`${text}\n`);
      }
    },
    clear(): void {
      if (!quiet && terminal.live && drawn > 0) terminal.err(`\r${' '.repeat(drawn)}\r`);
      drawn = 0;
    },
  };
}

/** The sentence and the exit code of an error. */
export function describeError(error: unknown): { text: string; exitCode: number } {
  if (error instanceof UsageError || error instanceof AnalysisError) {
    return { text: plainText(error.message), exitCode: error.exitCode };
  }
  if (isAbort(error)) return { text: 'stopped; nothing was written for the clip in progress', exitCode: 130 };
  const stack = error instanceof Error ? (error.stack ?? error.message) : String(error);
  return {
    text: `a fault of lagreel, please report it with the command you gave:\n${stack}`,
    exitCode: 1,
  };
}

/** True for the error of an interrupted job. */
export function isAbort(error: unknown): boolean {
  return (
    error instanceof Error &&
    (error.name === 'AbortError' || (error as { code?: unknown }).code === 'ABORT_ERR')
  );
}
