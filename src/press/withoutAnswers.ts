/** What becomes of presses when answers of theirs turn out to be none, or doubtful. */
import type { Pairing, Press, Response } from './pairPresses.js';

/** A response that is known to be none: what came was something else, and where the answer was is not known. */
export function asNone(response: Response): Response {
  return { ...response, status: 'ambiguous', onset: null };
}

/**
 * The pairing with each response as it is judged.
 * @param reason of a press that was measured and has no measured response any more: it is ambiguous then.
 */
export function withJudged(
  pairing: Pairing,
  judge: (response: Response) => Response,
  reason: string,
): Pairing {
  const presses = pairing.presses.map((press): Press => {
    const responses = press.responses.map(judge);
    const isLost = press.status === 'measured' && !responses.some((r) => r.status === 'measured');
    return { ...press, responses, ...(isLost ? { status: 'ambiguous', reason } : {}) };
  });
  return { ...pairing, presses };
}
