/** Runs the command line in this process and tells what is wrong with how it ended. */
import { readdirSync } from 'node:fs';
import { run } from '../../src/cli/main.js';
import { childrenAlive } from '../clip/childrenAlive.js';

/** How a run ended. */
export interface Ended {
  readonly code: number | null;
  readonly out: string;
  readonly err: string;
}

/** What went against the promises; empty where all is well. */
export type Fault = 'crash' | 'wrong exit code' | 'unclear sentence' | 'unsafe text' | 'left behind';

/** Exit codes that a file from somebody else may lead to. */
const CODES: readonly (number | null)[] = [0, 2, 3, 4, 5];
/** Characters that no output may hold but line ends: controls, and those that hide or turn text. */
// biome-ignore lint/suspicious/noControlCharactersInRegex: they are what must not be there
const UNSAFE = /[\u0000-\u0009\u000b-\u001f\u007f-\u009f\u200b-\u200f\u202a-\u202e\u2066-\u2069]/;
const LONGEST_SENTENCE = 2000;

/** Runs `lagreel ...argv` in this process. */
export async function runHere(argv: readonly string[]): Promise<Ended> {
  let out = '';
  let err = '';
  const code = await run(argv, {
    out: (text) => {
      out += text;
    },
    err: (text) => {
      err += text;
    },
    colour: false,
    width: 100,
    live: false,
  });
  return { code, out, err };
}

/** Judges an end. Where the input itself holds such words (`undefined`), the look for them is off. */
export function faultsOf(ended: Ended, folder: string, input = ''): Fault[] {
  const { code, out, err } = ended;
  const faults: Fault[] = [];
  if (code === 1 || /a fault of lagreel|^\s+at .*:\d+:\d+/m.test(err)) faults.push('crash');
  else if (!CODES.includes(code)) faults.push('wrong exit code');
  if (UNSAFE.test(out) || UNSAFE.test(err)) faults.push('unsafe text');
  const lines = err.split('\n').filter((line) => line !== '');
  const isHelp = /^Usage: lagreel/m.test(err);
  const clear =
    isHelp ||
    ((code === 0 || lines.length > 0 || out !== '') &&
      lines.every((line) => line.length < LONGEST_SENTENCE) &&
      (code === 0 ||
        code === 5 ||
        lines.filter((line) => line.startsWith('lagreel: ')).length > 0 ||
        out !== ''));
  const muddle = /\bundefined\b|\[object |\bNaN\b/;
  if (!clear || (muddle.test(err) && !muddle.test(input))) faults.push('unclear sentence');
  if (
    readdirSync(folder, { recursive: true, encoding: 'utf8' }).some((name) => /\.part$|\.lagreel-/.test(name))
  )
    faults.push('left behind');
  if (childrenAlive().length > 0) faults.push('left behind');
  return faults;
}
