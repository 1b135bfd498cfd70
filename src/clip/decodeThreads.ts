/** How many threads FFmpeg decodes a whole clip with: several a core, or one where its frames are damaged. */
import { availableParallelism } from 'node:os';

/** A thread decodes a frame and waits for the rows of others that it copies from, so that a core needs several to be busy. */
const THREADS_A_CORE = 4;
/** Beyond this FFmpeg warns; each one more holds a picture. */
const MOST_THREADS = 16;

/**
 * Input options for a pass over a whole clip; sound pictures are the same with any number of threads. FFmpeg itself takes
 * one more than there are cores. Wall time of `-f null` on two cores, 60 s of 1920x1080, 240 fps, H.264, 50 Mbit/s, two
 * runs each beside other work: 27 to 30 s with the three it takes, 25 to 28 with 4, 22 to 26 with 6, 20 to 22 with 8,
 * 20 to 25 with 12, 23 with 16.
 */
export function decodeThreads(): readonly string[] {
  return ['-threads', String(Math.min(MOST_THREADS, THREADS_A_CORE * availableParallelism()))];
}

/**
 * For a clip of which frames cannot be decoded: what FFmpeg puts in their place depends on how far other threads have come,
 * and differs from run to run.
 */
export const ONE_THREAD: readonly string[] = ['-threads', '1'];

/**
 * Whether a line of FFmpeg's messages tells of a frame that its decoder could not make sense of. Too often costs time only.
 * @param codec FFmpeg's name of it.
 */
export function tellsOfDamage(line: string, codec: string): boolean {
  if (/Error while decoding stream|Error submitting packet|Decoding error/.test(line)) return true;
  const [, decoder, message] = /^\[([\w-]+) @ [^\]]+\] (.*)/.exec(line) ?? [];
  if (decoder === undefined || !(decoder === codec || /^lib(dav1d|aom|vpx)/.test(decoder))) return false;
  return /error|invalid|concealing|could not find ref|range|too large|unavailable|negative|corrupt/i.test(
    message!,
  );
}

/** A frame could not be decoded in a pass with several threads. */
export class FrameDamaged extends Error {
  override readonly name = 'FrameDamaged';
}

/**
 * A pass over a clip, as fast as it goes; where a frame turns out to be damaged, from its beginning with one thread.
 * @param pass gets the input options; rejects with `FrameDamaged` where it had several threads and a frame is damaged.
 */
export async function decodedAlike<T>(pass: (threads: readonly string[]) => Promise<T>): Promise<T> {
  try {
    return await pass(decodeThreads());
  } catch (error) {
    if (!(error instanceof FrameDamaged)) throw error;
  }
  return pass(ONE_THREAD);
}
