/** Presses of a recording that pauses: what lies on both sides of a pause does not belong together. */
import type { Onset, OnsetSet } from '../onset/onset.js';
import { type Pairing, type PairingOptions, type Press, pairPresses } from './pairPresses.js';

/** Of a capture clock: where stretches without a pause begin (frames), when frames were taken, and their period, s. */
export interface StretchedClock {
  readonly stretchStarts: readonly number[];
  readonly capturedAtS: Float64Array;
  readonly periodS: number;
}

/** Pairs within each stretch of frames without a pause, never across; what changed during a pause has no time. */
export function pairInStretches(
  led: OnsetSet,
  screens: readonly OnsetSet[],
  { stretchStarts, capturedAtS, periodS }: StretchedClock,
  options: Omit<PairingOptions, 'clipEndS'>,
): Pairing {
  const ends = [...stretchStarts.slice(1), capturedAtS.length].map((end) => capturedAtS[end - 1]! + periodS);
  const parts = ends.map((clipEndS, i) => {
    const isLast = i === ends.length - 1;
    const startS = capturedAtS[stretchStarts[i]!]!;
    const inside = (o: Onset) => (i === 0 || o.levelS >= startS) && (isLast || o.levelS <= clipEndS);
    const within = (set: OnsetSet) => ({ ...set, onsets: set.onsets.filter(inside) });
    const pairing = pairPresses(within(led), screens.map(within), { ...options, clipEndS });
    const saysPause = (p: Press) =>
      p.reason ? { ...p, reason: p.reason.replace('the clip ends', 'the recording pauses') } : p;
    return isLast ? pairing : { ...pairing, presses: pairing.presses.map(saysPause) };
  });
  const lost = parts.map((p) => p.unmatchedDecisions);
  return {
    presses: parts.flatMap((p) => p.presses).map((press, i) => ({ ...press, index: i + 1 })),
    unprompted: parts.flatMap((p) => p.unprompted),
    unmatchedDecisions: options.decisions.filter((d) => lost.every((decisions) => decisions.includes(d))),
  };
}
