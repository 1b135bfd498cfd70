/** How many threads FFmpeg decodes a whole clip with. */
import { availableParallelism } from 'node:os';

/** A thread decodes a frame and waits for the rows of others that it copies from, so that a core needs several to be busy. */
const THREADS_A_CORE = 4;
/** Beyond this FFmpeg warns; each one more holds a picture. */
const MOST_THREADS = 16;

/**
 * Input options for a pass over a whole clip; the pictures are the same with any number of threads. FFmpeg itself takes
 * one more than there are cores. Wall time of `-f null` on two cores, 60 s of 1920x1080, 240 fps, H.264, 50 Mbit/s, two
 * runs each beside other work: 27 to 30 s with the three it takes, 25 to 28 with 4, 22 to 26 with 6, 20 to 22 with 8,
 * 20 to 25 with 12, 23 with 16.
 */
export function decodeThreads(): readonly string[] {
  return ['-threads', String(Math.min(MOST_THREADS, THREADS_A_CORE * availableParallelism()))];
}
