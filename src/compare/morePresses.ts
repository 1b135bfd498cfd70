/** How many presses more would settle an open question: a guide for the next filming, not a promise. */

import { normalQuantile } from '../numeric/normal.js';

/** Chance of an answer that is aimed at: the normal quantile of 80 %. */
const POWER_QUANTILE = 0.84;
/** Size of every test. */
const ALPHA = 0.05;
/** The delay's uncertainty falls as n^-0.65 between 30 and 600 presses (simulated; n^-1 for few, n^-0.5 for many). */
const FALL = 0.65;
/** Fewest that are worth another clip, and the step to which numbers are rounded up. */
const ROUND_TO = 5;
/** Beyond this a number is no advice. */
const MOST = 5000;

/** An open difference. */
export interface OpenDifference {
  /** Presses of the smaller group (or pairs). */
  readonly n: number;
  readonly differenceMs: number;
  /** Standard uncertainty of the difference, ms. */
  readonly uncertaintyMs: number;
  /** The part of it that presses do not shrink, ms. */
  readonly floorMs: number;
  readonly marginMs: number;
  /** Comparisons that are corrected for together. */
  readonly claims: number;
}

/**
 * Presses of each chain beside those at hand that would show the difference equivalent, or not nil, whichever is
 * nearer; null where what presses do not shrink stands in the way.
 */
export function moreForDifference(open: OpenDifference): number | null {
  const { n, differenceMs, uncertaintyMs, floorMs, marginMs, claims } = open;
  // A difference that is hardly larger than its uncertainty is mostly noise (shrinkage of James and Stein).
  const size = Math.abs(differenceMs) * Math.max(0, 1 - (uncertaintyMs / differenceMs) ** 2 || 0);
  const wanted = Math.max(
    (marginMs - size) / (normalQuantile(1 - ALPHA / claims) + POWER_QUANTILE),
    size / (normalQuantile(1 - ALPHA / (2 * claims)) + POWER_QUANTILE),
  );
  const shrinks = Math.sqrt(Math.max(0, uncertaintyMs ** 2 - floorMs ** 2));
  const room = Math.sqrt(Math.max(0, wanted ** 2 - floorMs ** 2));
  if (room <= 0) return null;
  const needed = n * Math.max(1, shrinks / room) ** (1 / FALL);
  return roundUp(Math.max(ROUND_TO, needed - n));
}

/** Presses more to tell fixed from variable: as many again, ten at least. */
export function moreForSpread(n: number): number | null {
  return roundUp(Math.max(10, n));
}

function roundUp(presses: number): number | null {
  return presses > MOST ? null : ROUND_TO * Math.ceil(presses / ROUND_TO);
}
