/**
 * The two kinds of error. A wrong call (`UsageError`) is the caller's: a flag, an argument, a request that does
 * not fit the clip. A wrong world (`AnalysisError`) is the file's or the machine's: not a clip, no decoder,
 * nothing that could be measured. Everything else that is thrown is a fault of lagreel.
 */

/** What went wrong in the world, one word for programs; the message is the sentence for people. */
export type AnalysisCode =
  | 'clip-unreadable'
  | 'not-a-clip'
  | 'decoder-missing'
  | 'decoder-failed'
  | 'recipe-invalid'
  | 'record-invalid'
  | 'rate-unknown'
  | 'nothing-measurable'
  | 'write-failed';

/** A wrong call: bad option, bad argument, a region outside the picture. Exit code 2. */
export class UsageError extends Error {
  override readonly name = 'UsageError';
  /** Process exit code of the command line, fixed by the design. */
  readonly exitCode: number = 2;
}

/** A wrong world: the message is one sentence that says what is wrong, where, and what to do. Exit code 3 or 4. */
export class AnalysisError extends Error {
  override readonly name = 'AnalysisError';
  /** One word for programs. */
  readonly code: AnalysisCode;
  /** Facts for a bug report: paths, exit codes, the last lines of the decoder's messages. */
  readonly details: Readonly<Record<string, unknown>>;

  constructor(
    code: AnalysisCode,
    message: string,
    details: Readonly<Record<string, unknown>> = {},
    cause?: unknown,
  ) {
    super(message, cause === undefined ? undefined : { cause });
    this.code = code;
    this.details = details;
  }

  /** 4 where the clip was read but nothing could be measured, 2 where a folder cannot be written, else 3. */
  get exitCode(): number {
    if (this.code === 'rate-unknown' || this.code === 'nothing-measurable') return 4;
    return this.code === 'write-failed' ? 2 : 3;
  }
}

/**
 * The one sentence for every wrong argument: name, rule, value.
 * @example expected('region.width', 'a whole number from 1 to 1920', 0).message
 * // 'expected region.width to be a whole number from 1 to 1920, got 0'
 */
export function expected(name: string, rule: string, actual: unknown): UsageError {
  const shown = typeof actual === 'string' ? JSON.stringify(actual) : String(actual);
  return new UsageError(`expected ${name} to be ${rule}, got ${shown}`);
}
