/** Presentation times of all packets, without decoding: for files whose index does not list them. */
import { MAX_SAMPLES } from './boxes.js';
import { inputArguments } from './clipFile.js';
import { outputPipe, runFfmpeg } from './ffmpeg.js';
import { TickQueue } from './planeQueue.js';

/** Times as the file stores them. */
export interface PacketTimes {
  /** In the order of storage, ticks of `ticksPerSecond`. */
  readonly ticks: Float64Array;
  readonly ticksPerSecond: number;
}

/**
 * Reads the packets of the first picture stream.
 * @returns null where FFmpeg gives no usable times (a damaged file; the reading of the frames will say so).
 */
export async function readPacketTimes(path: string, signal?: AbortSignal): Promise<PacketTimes | null> {
  const queue = new TickQueue();
  const end = await runFfmpeg({
    args: [
      ...['-copyts', ...inputArguments(path), '-map', '0:V:0', '-c', 'copy'],
      ...['-f', 'framecrc', outputPipe(0)],
    ],
    onOutput: [
      (piece) => {
        queue.push(piece);
        return queue.length <= MAX_SAMPLES;
      },
    ],
    signal,
  });
  if (end.stopped) return null;
  const base = /^1\/(\d+)$/.exec(queue.timeBase ?? '');
  if (end.exitCode !== 0 || base === null || queue.length < 2) return null;
  const ticks = queue.all();
  return ticks.every(Number.isFinite) ? { ticks, ticksPerSecond: Number(base[1]) } : null;
}
