/** Answers before which the screen's flashes went uncaught for a while: the change may have come then, and this be another one. */
import type { Onset, OnsetSet } from '../onset/onset.js';

/**
 * Whether each answer is such a one that goes another way than all answers that had nothing hidden before them. Without
 * any of these nothing is decided.
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
  const open = answers.filter((onset, i) => onset !== null && !isHidden[i]);
  if (open.length === 0) return answers.map(() => false);
  return answers.map((onset, i) => {
    return isHidden[i]! && !open.some((o) => o!.sign === onset!.sign && o!.kind === onset!.kind);
  });
}
