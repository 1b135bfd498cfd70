/** Ways in which an entry of the cache is no longer what was written, whatever it held. */
import { readFileSync, statSync, truncateSync, writeFileSync } from 'node:fs';

/** What is said of it, and what does it to the file. */
export const SPOILED: readonly [label: string, spoil: (path: string) => void][] = [
  ['cut off', (path) => truncateSync(path, statSync(path).size - 9)],
  ['empty', (path) => truncateSync(path, 0)],
  [
    'one bit changed',
    (path) => {
      const bytes = readFileSync(path);
      bytes[bytes.length >> 1]! ^= 4;
      writeFileSync(path, bytes);
    },
  ],
];
