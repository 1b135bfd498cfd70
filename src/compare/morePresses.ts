/** How many presses more would settle an open question: a guide for the next filming, not a promise. */

import { normalQuantile } from '../numeric/normal.js';

/** Chance of an answer that is aimed at: the normal quantile of 80 %. */
const POWER_QUANTILE = 0.84;
/** Size of every test. */
const ALPHA = 0.05;
/**
 * Fisher information of one press on the delay, times period and spread: two soft edges, each with the integral of
 * phi^2 / Phi, 0.903.
 */
const EDGE_INFORMATION = 1.806;
/** How the two limits of the delay's uncertainty join: judgement, by eye on a few simulated ones (20 to 200 presses). */
const JOIN = 4;
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
  /** Period of the wait, ms; null where there is none (pairs) or it is not known: then everything falls as n^-1/2. */
  readonly periodMs: number | null;
  /** Measurement and jitter of one press together (sd), ms. */
  readonly spreadMs: number;
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
  return roundUp(Math.max(ROUND_TO, pressesFor(room / shrinks, open) - n));
}

/** Presses at which the delay's uncertainty is so small a share of what it is now. */
function pressesFor(share: number, open: OpenDifference): number {
  const wanted = share * delaySpread(open.n, open);
  let [low, high] = [open.n, open.n];
  while (delaySpread(high, open) > wanted && high < 4 * MOST) high *= 2;
  for (let step = 0; step < 40; step += 1) {
    const middle = (low + high) / 2;
    if (delaySpread(middle, open) > wanted) low = middle;
    else high = middle;
  }
  return high;
}

/**
 * How the delay's standard deviation goes with the presses: n^-1 while the fastest and the slowest press bound it (R /
 * (sqrt(2) n), the midrange of a uniform wait), n^-1/2 once the edges are seen to be soft (the Cramer-Rao bound).
 */
function delaySpread(n: number, { periodMs, spreadMs }: OpenDifference): number {
  if (periodMs === null) return 1 / Math.sqrt(n);
  const bounded = periodMs / (Math.SQRT2 * n);
  const soft = Math.sqrt((periodMs * spreadMs) / (EDGE_INFORMATION * n));
  return (bounded ** JOIN + soft ** JOIN) ** (1 / JOIN);
}

/** Presses more to tell fixed from variable: as many again, ten at least. */
export function moreForSpread(n: number): number | null {
  return roundUp(Math.max(10, n));
}

function roundUp(presses: number): number | null {
  return presses > MOST ? null : ROUND_TO * Math.ceil(presses / ROUND_TO);
}
