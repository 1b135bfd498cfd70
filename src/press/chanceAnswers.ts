/** Answers that come after the presses no more regularly than changes at any time would. */
import { binomialCdf } from '../numeric/binomial.js';
import type { Onset, OnsetSet } from '../onset/onset.js';
import { type MeasuredAnswer, measuredAnswers } from './measuredAnswers.js';
import { type Pairing, type Press, type Response, withoutAnswer } from './pairPresses.js';

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

/**
 * What speaks against a region's answers, in a sentence; null where nothing does. Of answers that are too few for their
 * times to tell, most changes like them must have come after a press: where the LED's region shows something else that
 * switches now and then, such as a thumb, most of them come by themselves.
 */
function doubtOf(pairing: Pairing, screen: OnsetSet, durationS: number): string | null {
  const { name } = screen.region;
  const chance = chanceOfAnswers(pairing, screen, durationS);
  if (chance !== null) {
    return chance > MOST_CHANCE
      ? `The changes in region ${name} follow the presses no more closely than by chance: check that this region shows the answer, and film more presses.`
      : null;
  }
  const answers = measuredAnswers(pairing, name);
  const unprompted = pairing.unprompted.flatMap(({ region, onset }) => (region === name ? [onset] : []));
  const byThemselves = likeThem(answers, unprompted).length;
  return byThemselves > answers.length
    ? `Of ${answers.length + byThemselves} changes of region ${name} that look like its answers ${byThemselves} come without a press: check that the LED's region shows the button's light, and that this one shows the answer.`
    : null;
}

/**
 * The pairing without the answers of regions that follow the presses no more closely than chance, and with a flag on those
 * that are too few to tell while more changes like them come by themselves; and a sentence on each such region.
 */
export function flagChanceAnswers(
  pairing: Pairing,
  screens: readonly OnsetSet[],
  durationS: number,
): { readonly pairing: Pairing; readonly notes: readonly string[] } {
  const doubts = new Map(
    screens.flatMap((screen) => {
      const doubt = doubtOf(pairing, screen, durationS);
      return doubt === null ? [] : [[screen.region.name, doubt]];
    }),
  );
  if (doubts.size === 0) return { pairing, notes: [] };
  const isChance = (region: string) => {
    const screen = screens.find((s) => s.region.name === region);
    return screen !== undefined && (chanceOfAnswers(pairing, screen, durationS) ?? 0) > MOST_CHANCE;
  };
  const none = new Set([...doubts.keys()].filter(isChance));
  const presses = pairing.presses.map((press): Press => {
    const responses = press.responses.map((r): Response => {
      if (!doubts.has(r.region) || r.status !== 'measured') return r;
      const flagged = { ...r, flags: [...r.flags, FLAG] };
      return none.has(r.region) ? { ...flagged, status: 'ambiguous', onset: null } : flagged;
    });
    return withoutAnswer({ ...press, responses }, REASON);
  });
  return { pairing: { ...pairing, presses }, notes: [...doubts.values()] };
}
