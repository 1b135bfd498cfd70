/** From onsets to presses that are judged: paired, with every doubt that the answers themselves raise. */
import type { OnsetSet } from '../onset/onset.js';
import { judgeByChance } from './chanceAnswers.js';
import { isMostlyUnanswered, withClipDoubts } from './clipDoubts.js';
import { pairInStretches, type StretchedClock } from './pairInStretches.js';
import type { Pairing, PairingOptions } from './pairPresses.js';
import { flagReturns } from './returnAnswers.js';
import { dropUnbacked } from './unbackedAnswers.js';

/** Presses and what was said of them on the way. */
export interface JudgedPresses {
  /** With the doubts of single answers only. */
  readonly answered: Pairing;
  /** With the doubts that hold for the whole clip as well. */
  readonly pairing: Pairing;
  /** Sentences for the record. */
  readonly notes: readonly string[];
}

/** What the whole clip is doubted for, and how long it is. */
export interface ClipJudged {
  readonly durationS: number;
  /** Flags for every press. */
  readonly doubts: readonly string[];
}

/** Pairs presses and answers, and drops or flags what hardly is an answer. */
export function judgePresses(
  led: OnsetSet,
  screens: readonly OnsetSet[],
  clock: StretchedClock,
  options: Omit<PairingOptions, 'clipEndS'>,
  { durationS, doubts }: ClipJudged,
): JudgedPresses {
  const chance = judgeByChance(pairInStretches(led, screens, clock, options), screens, durationS);
  const answered = dropUnbacked(flagReturns(chance.pairing, screens));
  const { length } = answered.presses;
  const measured = answered.presses.filter((p) => p.status === 'measured').length;
  const unanswered = isMostlyUnanswered(length, measured) ? ['most-unanswered'] : [];
  return {
    answered,
    pairing: withClipDoubts(answered, [...doubts, ...unanswered]),
    notes: chance.notes,
  };
}
