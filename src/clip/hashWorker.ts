/** The program of a worker thread: the checksum of one file, so that the thread that asked can go on meanwhile. */
import { parentPort, workerData } from 'node:worker_threads';
import { hashFile, openClipFile } from './clipFile.js';

const { path, name } = workerData as { readonly path: string; readonly name: string };
const file = await openClipFile(path, name);
parentPort!.postMessage(await hashFile(file));
await file.close();
