/** The program of the workbench's process: asks come as messages, answers go as messages; it ends with the server. */
import { cachedRegions } from '../../samples/cache.js';
import type { SamplesCache } from '../../samples/cacheEntries.js';
import { type Carried, carry } from './carriedError.js';
import { type BenchAnswers, type BenchAsk, openWorkbench, type Workbench } from './workbench.js';

/** What the server sends: first the cache, then asks; `cancel` is answered by `heard` as soon as anything is heard here. */
export type ToBench =
  | { readonly cache: Pick<SamplesCache, 'folder' | 'limitBytes'> | null }
  | { readonly id: number; readonly ask: BenchAsk }
  | { readonly cancel: number };

/** What it hears. */
export type FromBench =
  | { readonly id: number; readonly stage: string; readonly done: number; readonly total: number | null }
  | { readonly id: number; readonly answer: BenchAnswers[BenchAsk['kind']] }
  | { readonly id: number; readonly error: Carried }
  | { readonly heard: number }
  | { readonly trouble: string };

let bench: Workbench | null = null;
const running = new Map<number, AbortController>();

const tell = (message: FromBench): void => {
  if (process.connected) process.send!(message, () => undefined);
};

// Ctrl-C reaches the whole group; the server says what is to become of its work.
process.on('SIGINT', () => undefined);
process.on('disconnect', () => {
  for (const stop of running.values()) stop.abort(new Error('the desk is gone'));
  // Decoders hear of it first.
  const end = () => (running.size === 0 ? process.exit(0) : setTimeout(end, 20));
  end();
});

process.on('message', async (message: ToBench) => {
  if ('cache' in message) {
    const { cache } = message;
    const onTrouble = (trouble: string) => tell({ trouble });
    bench = openWorkbench(cache && cachedRegions({ ...cache, onTrouble }));
    return;
  }
  if ('cancel' in message) {
    running.get(message.cancel)?.abort(new Error('cancelled'));
    tell({ heard: message.cancel });
    return;
  }
  const { id, ask } = message;
  const stop = new AbortController();
  running.set(id, stop);
  try {
    const answer = await bench!(ask, {
      signal: stop.signal,
      onProgress: (p) => tell({ id, stage: p.stage, done: p.framesDone, total: p.framesTotal }),
    });
    tell({ id, answer });
  } catch (error) {
    tell({ id, error: carry(error) });
  }
  running.delete(id);
});
