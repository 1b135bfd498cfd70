/** The program of a worker thread: the checksum of one file, so that the thread that asked can go on meanwhile. */
import { parentPort, workerData } from 'node:worker_threads';
import { identifyClip } from './clipFile.js';

parentPort!.postMessage((await identifyClip(workerData as string)).sha256);
