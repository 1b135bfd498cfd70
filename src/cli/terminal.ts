/** What every command shares at the terminal: streams, colour, progress, and the sentence for every kind of error. */
import { basename } from 'node:path';
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

/** The real streams. A reader that closes its pipe early (`| head`) is no fault: the files are still wanted. */
export function processTerminal(): Terminal {
  const { stdout, stderr, env } = process;
  for (const stream of [stdout, stderr]) {
    if (stream.listeners('error').includes(ignoreClosedPipe)) continue;
    stream.on('error', ignoreClosedPipe);
  }
  return {
    out: (text) => stdout.write(text),
    err: (text) => stderr.write(text),
    colour: Boolean(stdout.isTTY) && !env.NO_COLOR,
    width: Math.min(120, stdout.columns ?? 100),
    live: Boolean(stderr.isTTY),
  };
}

function ignoreClosedPipe(error: NodeJS.ErrnoException): void {
  if (error.code !== 'EPIPE') throw error;
}

/** Between two progress lines in a log; on a terminal the line is drawn over itself as often as it changes. */
const LOG_EVERY_MS = 10_000;

/** Where and how progress is shown. */
export interface ProgressOptions {
  readonly quiet: boolean;
  /** Path of the file that is worked on; its name is shown. */
  readonly file: string;
  /** A steady clock, ms. */
  readonly nowMs?: () => number;
}

/**
 * Shows frames done, rate and time left of each stage: over itself on a terminal, else (in a log) a line every ten
 * seconds, so that a short job says nothing but its answer.
 */
export function progressLine(
  terminal: Terminal,
  { quiet, file, nowMs = () => performance.now() }: ProgressOptions,
) {
  const name = plainText(basename(file));
  let stage = '';
  let stageAtMs = 0;
  let loggedAtMs = nowMs();
  let drawn = 0;
  return {
    update(newStage: string, done: number, total: number | null): void {
      if (quiet) return;
      const atMs = nowMs();
      if (newStage !== stage) {
        stage = newStage;
        stageAtMs = atMs;
      }
      const text = `${name}: ${stage}, ${progressText(done, total, (atMs - stageAtMs) / 1000)}`;
      if (terminal.live) {
        // A line that wraps could not be drawn over.
        const line = text.slice(0, Math.max(20, terminal.width - 1));
        terminal.err(`\r${line.padEnd(drawn)}`);
        drawn = line.length;
      } else if (atMs - loggedAtMs >= LOG_EVERY_MS) {
        loggedAtMs = atMs;
        terminal.err(`${text}\n`);
      }
    },
    clear(): void {
      if (drawn > 0) terminal.err(`\r${' '.repeat(drawn)}\r`);
      drawn = 0;
    },
  };
}

function progressText(done: number, total: number | null, seconds: number): string {
  const share = total === null ? `${done} frames` : `${done} of ${total} frames`;
  // The first report of a stage comes before any time has passed.
  if (seconds <= 0 || done <= 0) return share;
  const rate = done / seconds;
  const left = total === null ? '' : `, ${Math.ceil(Math.max(0, total - done) / rate)} s left`;
  return `${share}, ${rate.toFixed(0)} a second${left}`;
}

/** What became of a failed command: the sentence, and the exit code. */
export interface Failure {
  readonly text: string;
  readonly exitCode: number;
}

/** The failure of an interrupted run; 130 is what shells give for Ctrl-C. */
export const STOPPED: Failure = {
  text: 'stopped; nothing was written for the clip in progress',
  exitCode: 130,
};

/**
 * The sentence and the exit code of an error.
 * @param file the file that was worked on; named in front where the sentence does not name it.
 */
export function describeError(error: unknown, file?: string): Failure {
  if (isExpected(error)) {
    const name = file === undefined ? '' : basename(file);
    const text = error.message.includes(name) ? error.message : `${name}: ${error.message}`;
    return { text: plainText(withoutLongWords(text)), exitCode: error.exitCode };
  }
  const stack = error instanceof Error ? (error.stack ?? error.message) : String(error);
  return { text: `a fault of lagreel, please report it with the command you gave:\n${stack}`, exitCode: 1 };
}

// A path or a label that a person gave is shorter; what is longer would bury the sentence that it stands in.
const LONGEST_QUOTED = 300;
const LONGEST_SENTENCE = 1500;
const QUOTED = new RegExp(`(['"])((?:(?!\\1).){${LONGEST_QUOTED},}?)\\1`, 'gsu');
const LONG_WORD = new RegExp(`\\S{${LONGEST_QUOTED + 3},}`, 'gu');

/** The sentence with what it quotes cut short where that is too long to be read. */
export function withoutLongWords(sentence: string): string {
  const cut = (text: string) => `${[...text].slice(0, LONGEST_QUOTED / 2).join('')}...`;
  const short = sentence
    .replace(QUOTED, (_, quote: string, text: string) => `${quote}${cut(text)}${quote}`)
    .replace(LONG_WORD, cut);
  // What is quoted may hold quotation marks, or stand without.
  return short.length <= LONGEST_SENTENCE ? short : `${cut(short)} ... ${short.slice(-LONGEST_QUOTED)}`;
}

/** True for the two kinds of error that are no fault of lagreel. */
export function isExpected(error: unknown): error is UsageError | AnalysisError {
  return error instanceof UsageError || error instanceof AnalysisError;
}
