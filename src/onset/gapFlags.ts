/** Flags of an edge that a dropped frame touches. */
import type { Trace } from '../trace/trace.js';

/** `dropped-frame-nearby` where a frame is missing within one frame of the edge. */
export function gapFlags(trace: Pick<Trace, 'missingBefore'>, frame: number): string[] {
  const touched = [-1, 0, 1].some((d) => (trace.missingBefore[frame + d] ?? 0) > 0);
  return touched ? ['dropped-frame-nearby'] : [];
}
