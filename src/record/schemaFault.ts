/** What is wrong with a document, in words, out of the schema's own report. */
import type { z } from 'zod';

/** Names out of a file may be of any length. */
const LONGEST_NAME = 60;

/**
 * Where the first fault is and what is expected there, without a name of the file and without a remedy.
 * @example 'unknown key "refreshhz" at display', 'clip.codec is missing (expected: string)'
 */
export function schemaFault(error: z.ZodError): string {
  const issue = error.issues[0]!;
  const place =
    issue.path.length > 0 ? issue.path.map((key) => short(String(key))).join('.') : 'the top level';
  if (issue.code === 'unrecognized_keys') {
    const keys = issue.keys.slice(0, 3).map((key) => JSON.stringify(short(key)));
    return `unknown key ${keys.join(', ')} at ${place}`;
  }
  const missing = /expected (\w+), received undefined$/.exec(issue.message);
  if (missing) return `${place} is missing (expected: ${missing[1]})`;
  return `${place}: ${short(issue.message, 4 * LONGEST_NAME)}`;
}

function short(text: string, length = LONGEST_NAME): string {
  return text.length <= length ? text : `${text.slice(0, length)}…`;
}
