/** The presentation times of all frames of a clip as the decoder will give them, without decoding where that is safe. */
import type { ClipFacts, FrameSource } from './frameSource.js';
import { readPacketTimes } from './packetTimes.js';

/**
 * Times of the frames in presentation order, integer ticks of the clip's time base: the same as `ptsTicks` of
 * `readRects`. Read from the packets where they are sure to be the frames (no edit list, as many as the index says, no
 * two alike), else by decoding a few pixels of every frame.
 * @throws AnalysisError as `readRects`; the signal's reason.
 */
export async function readFrameTicks(
  path: string,
  source: FrameSource,
  signal?: AbortSignal,
): Promise<Float64Array> {
  const listed = await ticksOfPackets(path, source.facts, signal);
  if (listed) return listed;
  const times = await source.readRects([{ x: 0, y: 0, width: 2, height: 2 }], () => undefined, {
    ...(signal ? { signal } : {}),
  });
  return times.ptsTicks;
}

async function ticksOfPackets(
  path: string,
  facts: ClipFacts,
  signal: AbortSignal | undefined,
): Promise<Float64Array | null> {
  if (facts.editList !== 'none' || (facts.layout?.hiddenFrames ?? 0) > 0) return null;
  const packets = await readPacketTimes(path, signal);
  if (packets === null) return null;
  const [numerator, denominator] = facts.timeBase;
  if (numerator !== 1 || packets.ticksPerSecond !== denominator) return null;
  if (facts.declaredFrames !== null && packets.ticks.length !== facts.declaredFrames) return null;
  const ticks = packets.ticks.slice().sort();
  return ticks.every((tick, k) => k === 0 || tick > ticks[k - 1]!) ? ticks : null;
}
