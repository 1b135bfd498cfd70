/** Answers before which the screen's flashes went uncaught for a while: the change may have come then, and this be another one. */
import type { Onset, OnsetSet } from '../onset/onset.js';

/** So many answers say what is usual. */
const LEAST_USUAL = 3;
/** Beyond what the latencies of answers span, s: a wait of one refresh of a slow display. */
const USUAL_MARGIN_S = 0.02;

/**
 * Whether each answer is such a one that goes another way than all answers that had nothing hidden before them, or comes
 * far later than they do. Without any of these nothing is decided.
 * @param answers one a press, null where there is none.
 * @param presses LED onsets.
 */
export function hiddenAnswers(
  answers: readonly (Onset | null)[],
  presses: readonly Onset[],
  { unseenS = [] }: Pick<OnsetSet, 'unseenS'>,
): boolean[] {
  const isHidden = answers.map((onset, i) => {
    const pressS = presses[i]!.levelS;
    return onset !== null && unseenS.some(([fromS, toS]) => fromS < onset.levelS && toS > pressS);
  });
  const open = answers.flatMap((onset, i) =>
    onset !== null && !isHidden[i] ? [{ onset, lagS: onset.levelS - presses[i]!.levelS }] : [],
  );
  if (open.length === 0) return answers.map(() => false);
  const latestS = Math.max(...open.map((o) => o.lagS));
  const spanS = latestS - Math.min(...open.map((o) => o.lagS));
  const farS = open.length < LEAST_USUAL ? Number.POSITIVE_INFINITY : latestS + spanS + USUAL_MARGIN_S;
  return answers.map((answer, i) => {
    if (answer === null || !isHidden[i]) return false;
    const isAlike = open.some(({ onset: { sign, kind } }) => sign === answer.sign && kind === answer.kind);
    return !isAlike || answer.levelS - presses[i]!.levelS > farS;
  });
}
