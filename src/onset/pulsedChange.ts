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
// A first pulse at an end of the range is looked for so many pulses beyond it, and so many times.
const FARTHER = 2;
const MOST_FARTHER = 2;
// Beyond the ends of the range more pulses than these are not caught where the two pictures can hardly be told apart at all.
const FARTHEST_BEYOND = 4;

/** A change with the frames that hold it alone, and the pulses among which its first one is. */
export interface PulsedChange {
  readonly crossing: Crossing;
  readonly frames: StateSpan;
  readonly pulses: readonly [number, number];
  /** Frames that may be looked at: before them and after them are other changes. */
  readonly within: StateSpan;
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
  const seenFrames = (pulse: number): StateSpan => {
    const at = crossing.frame + Math.round((pulse - nearest) * periodT);
    const around = Math.ceil(periodT) + 3;
    return [Math.max(0, at - around), Math.min(frames, at + around)];
  };
  const isClear = (pulse: number) => evidenceOf(pulse, states, train, seenFrames(pulse), periodS) > CLEAR;
  // The first pulse that shows the new picture may follow many that no frame caught.
  let back = 0;
  while (back < FARTHEST_BACK && !isClear(nearest - 1 - back)) back++;
  // The frames looked at end where the change before has surely settled and where the next one may begin.
  const wide = Math.ceil((reach + 2) * periodT);
  const earliest = Math.max(0, previous + Math.ceil(periodT) + 2);
  const latest = Math.min(frames, next - Math.ceil(periodT));
  // A step at the very end is none, so that at the ends as well a pulse must show of which picture it is.
  const beyond = (end: number, step: 1 | -1) => {
    for (let n = 0; n <= FARTHEST_BEYOND; n++) if (isClear(end + n * step)) return n;
    return 0;
  };
  const first = nearest - reach - back;
  const before = beyond(first, -1);
  const after = beyond(nearest + reach - 1, 1);
  const from = Math.max(earliest, crossing.frame - wide - Math.ceil((back + before) * periodT));
  const to = Math.min(latest, crossing.frame + wide + Math.ceil(after * periodT));
  if (to - from < 3 || from >= crossing.frame || to <= crossing.frame) return [];
  return [
    {
      crossing,
      frames: [from, to],
      pulses: [first - before, nearest + reach + after],
      within: [earliest, latest],
    },
  ];
}

/**
 * Posterior of a change's first pulse, and whether there is a step at all. Where the light goes over in steps, or pulses are
 * caught for a part, the change was noticed pulses late: one at an end of the range is looked for beyond it.
 */
export function firstOf(
  change: PulsedChange,
  states: readonly BandStates[],
  train: PulseTrain,
  shares: PulseShares | null,
  periodS: number,
): FirstPulse & { readonly isStep: boolean } {
  let at = change;
  for (let farther = 0; ; farther++) {
    const first = firstInRange(at, states, train, shares, periodS);
    const best = first.chances.reduce((a, b) => (b.chance > a.chance ? b : a));
    const isStep = best.pulse > at.pulses[0] && best.pulse < at.pulses[1];
    if (isStep || farther === MOST_FARTHER) return { ...first, isStep };
    const width = Math.ceil(FARTHER * train.periodT);
    const isBefore = best.pulse <= at.pulses[0];
    const [from, to] = isBefore ? [at.frames[0] - width, at.frames[1]] : [at.frames[0], at.frames[1] + width];
    // Pulses that no frame shows say nothing.
    if (from < change.within[0] || to > change.within[1]) return { ...first, isStep };
    const [earliest, latest] = at.pulses;
    const pulses = isBefore
      ? ([earliest - FARTHER, latest] as const)
      : ([earliest, latest + FARTHER] as const);
    at = { ...at, frames: [from, to], pulses };
  }
}

/** The same for the pulses of its range alone, so that the evidence of several shares can be compared. */
export function firstInRange(
  { crossing, frames, pulses }: PulsedChange,
  states: readonly BandStates[],
  train: PulseTrain,
  shares: PulseShares | null,
  periodS: number,
): FirstPulse {
  const shareOf = shares ? (b: number, j: number) => shareAt(shares.ofBand[b]!, j) : undefined;
  return firstPulse(states, train, crossing.sign > 0, frames, pulses, periodS, shareOf);
}
