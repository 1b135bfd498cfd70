/** Which of some lights that lead is the LED, and what speaks against it. */
import type { BlockBox, Overview } from './activity.js';
import type { Following } from './followers.js';
import { isBeside, type Leader, touches } from './leaders.js';
import { sameLight } from './ledCandidates.js';

/** What leads less clearly is not worth a person's look. */
const LEAST_CLEARNESS = 0.12;
/** A clean clip has about 1; what is half as clear must be looked at by a person. */
const SURE = 0.55;
/** Fewer flashes prove nothing, however well they are followed. */
const LEAST_FOLLOWED = 4;
/** A second light that leads nearly as well as the first. */
const RIVAL = 0.7;
/** Of the changes of a light that is part of an answer, so many come with it, as near as a display draws its picture. */
const ANSWERS_SHARE = 0.8;
const TOGETHER_S = 1 / 30;

/** The likeliest of some lights, and what speaks against it. */
export interface Judgement {
  /** All that lead, the likeliest first. */
  readonly pairs: readonly Leader[];
  readonly best: Leader;
  /** The light with its parts that were seen apart. */
  readonly light: BlockBox;
  readonly confidence: number;
  /** Sentences on why a person should look at the choice; none where it is sure. */
  readonly doubts: readonly string[];
}

/**
 * The likeliest light with its doubts; null where none leads.
 * @param found the likeliest first.
 */
export function judged(found: readonly Leader[], overview: Overview): Judgement | null {
  const { rateHz } = overview;
  const pairs = found.filter((pair) => pair.clearness > LEAST_CLEARNESS);
  const best = pairs[0];
  if (!best) return null;
  const others = pairs.filter((p) => p.led !== best.led && !sameLight(p.led, best.led, rateHz));
  // What lights up with the answer goes out with its end, or the other way round.
  const answers = found.filter((p) => answersTo(p, best, rateHz)).map((p) => p.led.blocks);
  const rival = others.find((p) => !answers.includes(p.led.blocks));
  const confidence = Math.min(1, best.clearness) * (1 - best.chance);
  const doubts: string[] = [];
  // A light that spends most of the time in the state that its press brings about is more likely no button's.
  if (best.sign > 0 !== best.led.restsDark) {
    doubts.push('The presumed LED spends most of the clip in the state that a press would bring about.');
  }
  if (rival !== undefined && rival.score > RIVAL * best.score) {
    doubts.push('Two lights could be the button LED; the one that leads its screen more steadily was taken.');
  }
  if (isBeside(best.following.blocks, best.led, overview)) {
    doubts.push(
      'The presumed screen is a small part right beside the presumed LED: perhaps a thumb, or the glow of the LED.',
    );
  }
  if (best.isImage) {
    doubts.push(
      'Something brighter switches at the same moments as the presumed LED, which is perhaps its mirror image.',
    );
  }
  if (best.following.followed < LEAST_FOLLOWED || confidence < SURE) doubts.push(unclearNote(best.following));
  return { pairs, best, light: wholeLight(best, pairs, rateHz), confidence, doubts };
}

/** Whether a light is itself part of what follows another, such as the screen's mirror image in the bench. */
function answersTo({ presses }: Leader, first: Leader, rateHz: number): boolean {
  const lag = first.following.lagS * rateHz;
  const isInTime = (k: number) => first.presses.some((p) => Math.abs(k - p - lag) <= TOGETHER_S * rateHz);
  return presses.filter(isInTime).length >= ANSWERS_SHARE * presses.length;
}

/** The light's box with those of its parts that touch it: where a thumb passed, they were seen apart. */
function wholeLight(best: Leader, pairs: readonly Leader[], rateHz: number): BlockBox {
  return pairs
    .filter(({ led, sign }) => sign === best.sign && sameLight(led, best.led, rateHz))
    .filter(({ led: { box } }) => touches(box, best.led.box))
    .reduce((whole, { led: { box } }) => around(whole, box), best.led.box);
}

function around(a: BlockBox, b: BlockBox): BlockBox {
  return {
    x0: Math.min(a.x0, b.x0),
    y0: Math.min(a.y0, b.y0),
    x1: Math.max(a.x1, b.x1),
    y1: Math.max(a.y1, b.y1),
  };
}

function unclearNote({ followed, presses }: Following): string {
  if (followed < presses)
    return `Only ${followed} of ${presses} flashes of the presumed LED are followed steadily by the presumed screen.`;
  if (presses < LEAST_FOLLOWED)
    return `The presumed LED was seen to flash ${presses === 1 ? 'once' : `${presses} times`} only, which may be chance.`;
  return `That the presumed screen answers the presumed LED is not clear from its ${presses} flashes.`;
}
