/** `npm run fuzz -- --seed N [--clips N] [--documents N] [--jobs N]`: prints every find and the counts; exit 1 with any. */
import { parseArgs } from 'node:util';
import { type FuzzResult, runFuzz } from './runFuzz.js';

const { values } = parseArgs({
  options: {
    seed: { type: 'string', default: '1' },
    clips: { type: 'string', default: '2000' },
    documents: { type: 'string', default: '10000' },
    jobs: { type: 'string', default: '1' },
  },
});
const whole = (name: keyof typeof values) => {
  const value = Number(values[name]);
  if (!Number.isInteger(value) || value < 0)
    throw new Error(`--${name} must be a whole number, got ${values[name]}`);
  return value;
};
const startMs = performance.now();
const titles = { clips: 'clips', documents: 'documents', process: 'clips, as real processes' } as const;

/** Prints the counts; returns the number of finds. */
function report(counts: FuzzResult): number {
  let finds = 0;
  for (const kind of ['clips', 'documents', 'process'] as const) {
    const { tried, codes, finds: own, slowestMs, heapsMb } = counts[kind];
    finds += own.length;
    const of = (fault: string) => own.filter((find) => find.fault === fault).length;
    const heap = heapsMb.map(([first, last]) => `${first.toFixed(0)} to ${last.toFixed(0)} MB`).join(', ');
    console.log(
      `${titles[kind]}: ${tried} tried, ${of('hang')} hangs, ${of('crash')} crashes, ${of('wrong exit code')} wrong exit codes, ` +
        `${of('unclear sentence')} unclear sentences, ${of('unsafe text')} unsafe texts, ${of('left behind')} with something left behind; ` +
        `exit codes ${JSON.stringify(codes)}; slowest ${(slowestMs / 1000).toFixed(1)} s${heap === '' ? '' : `; heap ${heap}`}`,
    );
  }
  console.log(`seed ${whole('seed')}, ${((performance.now() - startMs) / 60_000).toFixed(1)} min`);
  return finds;
}

const counts = await runFuzz({
  seed: whole('seed'),
  clips: whole('clips'),
  documents: whole('documents'),
  processEvery: 40,
  jobs: Math.max(1, whole('jobs')),
  onStart: (live) => {
    for (const signal of ['SIGINT', 'SIGTERM'] as const)
      process.once(signal, () => {
        console.log('stopped early');
        report(live);
        process.exit(1);
      });
  },
  onCase: (kind, done) => {
    if (done % 500 === 0) console.error(`${done} ${kind}`);
  },
  onFind: (find) => console.log(`FIND ${JSON.stringify(find)}`),
});
process.exitCode = report(counts) > 0 ? 1 : 0;
