/** Answers that nothing backs up, where so little of a region can be believed that each of them must be like another. */
import { ONLY_ONE } from '../onset/onset.js';
import { FLICKERING } from '../onset/ripple.js';
import { type MeasuredAnswer, measuredAnswers } from './measuredAnswers.js';
import type { Pairing, Response } from './pairPresses.js';
import { asNone, withJudged } from './withoutAnswers.js';

/** Latencies of one chain lie within about this, s: a wait of one refresh of a slow display, and as much again. */
const ALIKE_S = 0.05;

/** Regions that answer fewer of at least so many presses than this share of them hardly answer. */
const LEAST_PRESSES = 4;
const HARDLY = 0.6;

/** Shows in the reason of a press whose only answer was such a one. */
const REASON =
  'the change after it is like none of those after other presses, and so few of these could be measured that it may be anything';

/**
 * The pairing without the answers of a region that hardly answers unless its light is steady and the times of other answers
 * agree with them, and without those that are the only changes of their kind in light that flickers, where hardly an answer is like another.
 */
export function dropUnbacked(pairing: Pairing): Pairing {
  const regions = new Set(pairing.presses.flatMap((p) => p.responses.map((r) => r.region)));
  const unbacked = new Set([...regions].flatMap((region) => unbackedIn(pairing, region)));
  if (unbacked.size === 0) return pairing;
  return withJudged(pairing, (r) => (unbacked.has(r) ? asNone(r) : r), REASON);
}

function unbackedIn(pairing: Pairing, region: string): Response[] {
  const { presses } = pairing;
  const answers = measuredAnswers(pairing, region);
  const isFlickering = ({ response }: MeasuredAnswer) => response.flags.includes(FLICKERING);
  const isOdd = (answer: MeasuredAnswer) => answer.response.flags.includes(ONLY_ONE) && isFlickering(answer);
  const isAgreed = (lagS: number) => {
    const near = answers.filter((a) => Math.abs(a.lagS - lagS) <= ALIKE_S).length - 1;
    return near > 0 && near >= (answers.length - 1) / 2;
  };
  const fewAnswer = presses.length >= LEAST_PRESSES && answers.length < HARDLY * presses.length;
  const fewRepeat = answers.filter(isOdd).length > answers.length / 2;
  return answers
    .filter((a) => (fewAnswer && (!isAgreed(a.lagS) || isFlickering(a))) || (fewRepeat && isOdd(a)))
    .map((a) => a.response);
}
