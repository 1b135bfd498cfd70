/** Changes on a screen that shines in pulses, each with the frames that hold it alone and the pulses among which its first is. */
import type { Trace } from '../trace/trace.js';
import type { PulseShares } from './pulseShares.js';
import { shareAt } from './pulseShares.js';
import {
  type BandStates,
  CLEAR,
  evidenceOf,
  type FirstPulse,
  firstPulse,
  type StateSpan,
} from './pulseStates.js';
import type { PulseTrain } from './pulseTrain.js';
import type { Crossing } from './windows.js';

const FARTHEST_BACK = 40;
const MOST_AHEAD = 4;

/** A change with the frames that hold it alone, and the pulses among which its first one is. */
export interface PulsedChange {
  readonly crossing: Crossing;
  readonly frames: StateSpan;
  readonly pulses: readonly [number, number];
}

/** A change by its place among all of the region's; none where too few frames hold it alone. */
export function changeAt(
  trace: Trace,
  crossings: readonly Crossing[],
  states: readonly BandStates[],
  train: PulseTrain,
  halfT: number,
  index: number,
  windowFrames: number,
): PulsedChange[] {
  const crossing = crossings[index]!;
  const { periodS, frames } = trace;
  const { periodT } = train;
  const reach = Math.max(2, Math.ceil((2 * windowFrames) / periodT));
  const nearest = Math.round((trace.openS[crossing.frame]! / periodS - halfT) / periodT);
  const previous = crossings[index - 1]?.frame ?? Number.NEGATIVE_INFINITY;
  const next = crossings[index + 1]?.frame ?? Number.POSITIVE_INFINITY;
  // The first pulse that shows the new picture may follow many that no frame caught.
  let back = 0;
  const seenFrames = (pulse: number): StateSpan => {
    const at = crossing.frame + Math.round((pulse - nearest) * periodT);
    const around = Math.ceil(periodT) + 3;
    return [Math.max(0, at - around), Math.min(frames, at + around)];
  };
  const isClear = (pulse: number) => evidenceOf(pulse, states, train, seenFrames(pulse), periodS) > CLEAR;
  while (back < FARTHEST_BACK && !isClear(nearest - 1 - back)) back++;
  // At the ends as well, a pulse that was not caught leaves open which of two was the first; a step at the very end is none.
  while (back < FARTHEST_BACK && !isClear(nearest - reach - back)) back++;
  let ahead = 0;
  while (ahead < MOST_AHEAD && !isClear(nearest + reach + ahead - 1)) ahead++;
  const wide = Math.ceil((reach + 2) * periodT);
  // The frames looked at end where the change before has surely settled and where the next one may begin.
  const from = Math.max(
    0,
    crossing.frame - wide - Math.ceil(back * periodT),
    previous + Math.ceil(periodT) + 2,
  );
  const to = Math.min(frames, crossing.frame + wide + Math.ceil(ahead * periodT), next - Math.ceil(periodT));
  if (to - from < 3 || from >= crossing.frame || to <= crossing.frame) return [];
  return [{ crossing, frames: [from, to], pulses: [nearest - reach - back, nearest + reach + ahead] }];
}

/** Posterior of a change's first pulse. */
export function firstOf(
  { crossing, frames, pulses }: PulsedChange,
  states: readonly BandStates[],
  train: PulseTrain,
  shares: PulseShares | null,
  periodS: number,
): FirstPulse {
  const shareOf = shares ? (b: number, j: number) => shareAt(shares.ofBand[b]!, j) : undefined;
  return firstPulse(states, train, crossing.sign > 0, frames, pulses, periodS, shareOf);
}
