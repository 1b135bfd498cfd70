/** Answers that come after the presses no more regularly than changes at any time would. */
import { binomialCdf } from '../numeric/binomial.js';
import type { Onset, OnsetSet } from '../onset/onset.js';
import { type MeasuredAnswer, measuredAnswers } from './measuredAnswers.js';
import type { Pairing, Response } from './pairPresses.js';
import { asNone, withJudged } from './withoutAnswers.js';

/** Distances from the median latency within which answers are counted, s; each is tried. */
const REACHES_S = [0.01, 0.025, 0.05];
/** Chance above which answers are none: no sound one of 400 simulated clips reached it. */
const MOST_CHANCE = 0.01;
/** Two or three answers say nothing about chance. */
const LEAST_ANSWERS = 4;
const FLAG = 'chance-answer';

/** Shows in the reason of a press whose only answer was such a one. */
const REASON = 'the changes of the screen follow the presses no more closely than by chance';

/**
 * Chance (0..1) that changes at random moments, as many as the region shows, follow the presses within as narrow a range
 * as the measured answers do; null where there are too few answers to tell.
 */
export function chanceOfAnswers(pairing: Pairing, screen: OnsetSet, durationS: number): number | null {
  const answers = measuredAnswers(pairing, screen.region.name);
  const lagsS = answers.map((a) => a.lagS);
  if (lagsS.length < LEAST_ANSWERS || durationS <= 0) return null;
  lagsS.sort((a, b) => a - b);
  const usual = lagsS[lagsS.length >> 1]!;
  const alike = likeThem(answers, screen.onsets).length;
  // The median is the answers' own choice, so that one of them says nothing.
  const others = lagsS.length - 1;
  const chances = REACHES_S.map((reachS) => {
    const near = lagsS.filter((lag) => Math.abs(lag - usual) <= reachS).length - 1;
    const byChance = 1 - Math.exp((-2 * reachS * alike) / durationS);
    return near === 0 ? 1 : 1 - binomialCdf(near - 1, others, byChance);
  });
  return Math.min(1, REACHES_S.length * Math.min(...chances));
}

/** Those of some changes that are of the kind and direction of an answer. */
function likeThem(answers: readonly MeasuredAnswer[], changes: readonly Onset[]): Onset[] {
  const key = ({ kind, sign }: Onset) => `${kind} ${sign}`;
  const kinds = new Set(answers.map(({ onset }) => key(onset)));
  return changes.filter((change) => kinds.has(key(change)));
}

/** What speaks against a region's answers: a sentence, and whether they are none. */
interface Doubt {
  readonly note: string;
  readonly areNone: boolean;
}

/**
 * null where nothing speaks against a region's answers. Of answers that are too few for their
 * times to tell, most changes like them must have come after a press: where the LED's region shows something else that
 * switches now and then, such as a thumb, most of them come by themselves.
 */
function doubtOf(pairing: Pairing, screen: OnsetSet, durationS: number): Doubt | null {
  const { name } = screen.region;
  const chance = chanceOfAnswers(pairing, screen, durationS);
  if (chance !== null) {
    const note = `The changes in region ${name} follow the presses no more closely than by chance: check that this region shows the answer, and film more presses.`;
    return chance > MOST_CHANCE ? { note, areNone: true } : null;
  }
  const answers = measuredAnswers(pairing, name);
  const unprompted = pairing.unprompted.flatMap(({ region, onset }) => (region === name ? [onset] : []));
  const byThemselves = likeThem(answers, unprompted).length;
  const note = `Of ${answers.length + byThemselves} changes of region ${name} that look like its answers ${byThemselves} come without a press: check that the LED's region shows the button's light, and that this one shows the answer.`;
  return byThemselves > answers.length ? { note, areNone: false } : null;
}

/**
 * The pairing without the answers of regions that follow the presses no more closely than chance, and with a flag on those
 * that are too few to tell while more changes like them come by themselves; and a sentence on each such region.
 */
export function judgeByChance(
  pairing: Pairing,
  screens: readonly OnsetSet[],
  durationS: number,
): { readonly pairing: Pairing; readonly notes: readonly string[] } {
  const doubts = new Map<string, Doubt>();
  for (const screen of screens) {
    const doubt = doubtOf(pairing, screen, durationS);
    if (doubt !== null) doubts.set(screen.region.name, doubt);
  }
  const judge = (response: Response): Response => {
    const doubt = doubts.get(response.region);
    if (!doubt || response.status !== 'measured') return response;
    const flagged = { ...response, flags: [...response.flags, FLAG] };
    return doubt.areNone ? asNone(flagged) : flagged;
  };
  return {
    pairing: doubts.size === 0 ? pairing : withJudged(pairing, judge, REASON),
    notes: [...doubts.values()].map(({ note }) => note),
  };
}
