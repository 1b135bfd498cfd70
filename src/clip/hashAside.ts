/** A checksum that is worked out in a thread of its own. */
import { Worker } from 'node:worker_threads';

// Beside this file both where it is compiled alone and where the program is joined into a few files.
const WORKER = new URL('./hashWorker.js', import.meta.url);

/**
 * SHA-256 of the whole file, lower-case hex.
 * @throws the signal's reason; what the worker fails with, such as where it cannot read the file.
 */
export function hashAside(path: string, signal?: AbortSignal): Promise<string> {
  return new Promise((resolve, reject) => {
    const worker = new Worker(WORKER, { workerData: path });
    const stop = () => {
      reject(signal?.reason);
      void worker.terminate();
    };
    worker.once('message', (sha256: string) => resolve(sha256));
    worker.once('error', reject);
    worker.once('exit', () => {
      signal?.removeEventListener('abort', stop);
      // After a message or an error this says nothing any more.
      reject(new Error(`the checksum of ${path} was not worked out to its end`));
    });
    if (signal?.aborted) stop();
    else signal?.addEventListener('abort', stop, { once: true });
  });
}
