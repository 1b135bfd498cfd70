/** Answers that are the picture's return, as the change before it was not seen: they come later than the others by as long as it is held. */
import type { Onset, OnsetSet } from '../onset/onset.js';
import { type MeasuredAnswer, measuredAnswers } from './measuredAnswers.js';
import type { Pairing, Response } from './pairPresses.js';
import { asNone, withJudged } from './withoutAnswers.js';

/** Answers of each direction; fewer say nothing about the others. */
const LEAST_ANSWERS = 3;
/** Rise and fall of one display are never this far apart to any level (a slow panel takes 0.02 s), s. */
const APART_S = 0.03;
const FLAG = 'perhaps-the-return';

/** Shows in the reason of a press whose only answer was such a one. */
const REASON =
  "the first change seen after it comes later than a response does, as the picture's return: the change before it was not seen";

/**
 * The pairing with a flag on the answers of that direction, to more or to less light, whose answers all come later than
 * those of the other one by more than a response takes. Where they lead to a picture that was there already, so that the
 * change away from it was not seen, or where changes as late follow the other answers as well, which no press explains,
 * they are returns for certain, and no answers. Answers that come with the return of another region are flagged, too.
 */
export function flagReturns(pairing: Pairing, screens: readonly OnsetSet[]): Pairing {
  const late = new Map(screens.map((screen) => [screen.region.name, lateAnswers(pairing, screen)]));
  const together = answersWithReturns(pairing, screens);
  if ([...late.values()].every((l) => l === null) && together.size === 0) return pairing;
  const judge = (response: Response): Response => {
    const found = late.get(response.region);
    const isLate = response.status === 'measured' && found != null && response.onset?.sign === found.sign;
    if (!isLate && !together.has(response)) return response;
    const flagged = { ...response, flags: [...response.flags, FLAG] };
    return isLate && found.areReturns ? asNone(flagged) : flagged;
  };
  return withJudged(pairing, judge, REASON);
}

/** The direction whose answers all come late, and whether they are returns for certain. */
function lateAnswers(
  pairing: Pairing,
  { region: { name: region }, onsets }: OnsetSet,
): { sign: 1 | -1; areReturns: boolean } | null {
  const answers = measuredAnswers(pairing, region);
  const of = (sign: 1 | -1) => answers.filter(({ onset }) => onset.sign === sign);
  const [rises, falls] = [of(1), of(-1)];
  if (Math.min(rises.length, falls.length) < LEAST_ANSWERS) return null;
  const [early, late] = startsAfter(falls, rises) ? [rises, falls] : [falls, rises];
  if (!startsAfter(late, early)) return null;
  const { sign } = late[0]!.onset;
  const others = pairing.unprompted.filter((u) => u.region === region && u.onset.sign === sign);
  const fromS = Math.min(...late.map((l) => l.lagS)) - APART_S;
  const toS = Math.max(...late.map((l) => l.lagS)) + APART_S;
  const returning = early.filter(({ press: { led } }) =>
    others.some(({ onset }) => onset.levelS - led.levelS >= fromS && onset.levelS - led.levelS <= toS),
  );
  const unled = late.filter(({ onset }) => {
    const before = onsets.findLast((o) => o.kind === onset.kind && o.levelS < onset.levelS);
    return before?.sign === sign;
  });
  return { sign, areReturns: Math.max(returning.length, unled.length) >= LEAST_ANSWERS };
}

/**
 * Answers to the other direction than another region's to the same press, which come after it by more than a response takes
 * and when that region returns; and those of the same region and direction that come as late.
 */
function answersWithReturns(pairing: Pairing, screens: readonly OnsetSet[]): ReadonlySet<Response> {
  const returnsAt = (region: string, { sign, levelS }: Onset) =>
    screens.some(
      (s) =>
        s.region.name === region &&
        s.onsets.some((o) => o.sign === sign && Math.abs(o.levelS - levelS) < APART_S),
    );
  const comesWithReturn = ({ press, onset }: MeasuredAnswer): boolean =>
    press.responses.some(
      (other) =>
        other.status === 'measured' &&
        other.onset !== null &&
        other.onset.sign !== onset.sign &&
        onset.levelS - other.onset.levelS > APART_S &&
        returnsAt(other.region, onset),
    );
  return new Set(
    screens.flatMap(({ region }) => {
      const answers = measuredAnswers(pairing, region.name);
      const returns = answers.filter(comesWithReturn);
      return answers
        .filter(({ onset, lagS }) =>
          returns.some((r) => r.onset.sign === onset.sign && Math.abs(r.lagS - lagS) < APART_S),
        )
        .map((a) => a.response);
    }),
  );
}

function startsAfter(late: readonly { lagS: number }[], early: readonly { lagS: number }[]): boolean {
  return Math.min(...late.map((l) => l.lagS)) > Math.max(...early.map((e) => e.lagS)) + APART_S;
}
