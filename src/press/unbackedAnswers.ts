/** Answers that nothing backs up, where so little of a region can be believed that each of them must be like another. */
import { ONLY_ONE } from '../onset/onset.js';
import { FLICKERING } from '../onset/ripple.js';
import { type Pairing, type Press, type Response, withoutAnswer } from './pairPresses.js';

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
  const presses = pairing.presses.map((press): Press => {
    const responses = press.responses.map(
      (r): Response => (unbacked.has(r) ? { ...r, status: 'ambiguous', onset: null } : r),
    );
    return withoutAnswer({ ...press, responses }, REASON);
  });
  return { ...pairing, presses };
}

function unbackedIn({ presses }: Pairing, region: string): Response[] {
  const answers = presses.flatMap(({ status, led, responses }) => {
    const response = responses.find((r) => r.region === region && r.status === 'measured');
    if (status !== 'measured' || !response?.onset) return [];
    return [{ response, lagS: response.onset.levelS - led.levelS }];
  });
  type Answer = (typeof answers)[number];
  const isFlickering = ({ response }: Answer) => response.flags.includes(FLICKERING);
  const isOdd = (answer: Answer) => answer.response.flags.includes(ONLY_ONE) && isFlickering(answer);
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
