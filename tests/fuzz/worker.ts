/**
 * A process that runs cases and tells of each on a line of JSON: first its number, then how it ended. The parent ends
 * it where a case takes too long. Arguments: clips|documents SEED FROM TO STEP FOLDER.
 */
import { mkdirSync, mkdtempSync, rmSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { basesIn } from './bases.js';
import { clipCase, commandOptions, documentCase } from './cases.js';
import { faultsOf, runHere } from './judge.js';

const DESK_STAYS_MS = 300;

const [kind, seed, from, to, step, folder] = process.argv.slice(2) as [string, ...string[]];
const say = (line: object) => writeSync(3, `${JSON.stringify(line)}\n`);
const bases = await basesIn(join(folder!, 'bases'));
const commands = kind === 'documents' ? await commandOptions() : {};
mkdirSync(join(folder!, 'runs'), { recursive: true });

for (let i = Number(from), n = 0; i < Number(to); i += Number(step), n++) {
  const place = mkdtempSync(join(folder!, 'runs', 'case-'));
  process.chdir(place);
  say({ begun: i });
  const { what, argv, input } =
    kind === 'clips'
      ? clipCase(bases, Number(seed), i, place)
      : documentCase(bases, commands, Number(seed), i, place);
  say({ what, argv });
  const startMs = performance.now();
  // A desk runs until Ctrl-C; without it, one that opens would be taken for a hang.
  const leave = argv[0] === 'desk' ? setTimeout(() => process.emit('SIGINT'), DESK_STAYS_MS) : undefined;
  const ended = await runHere(argv);
  clearTimeout(leave);
  const ms = performance.now() - startMs;
  const faults = faultsOf(ended, place, input);
  let heapMb: number | null = null;
  if (n % 25 === 24) {
    (globalThis as { gc?: () => void }).gc?.();
    heapMb = process.memoryUsage().heapUsed / 2 ** 20;
  }
  say({
    done: i,
    code: ended.code,
    ms,
    faults,
    heapMb,
    err: faults.length > 0 ? ended.err.slice(0, 1500) : '',
  });
  process.chdir('/');
  if (faults.length === 0) rmSync(place, { recursive: true, force: true });
}
