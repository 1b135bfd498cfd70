/** Difference of the fixed delays of two groups of presses. */
import { type Exchanged, MOST_TRIALS, randomSplits, shiftByExchange, trialSpacing } from './exchange.js';
import { densityMoments, type GridDensity, mixDensities } from './gridDensity.js';
import { logSumExp, type PressLaw } from './hypothesis.js';
import type { LatencyValue, WaitModelFit } from './waitModel.js';
import { weightedMoments } from './weightedPosterior.js';

/** A group's presses with their fit. */
export interface FittedPresses {
  readonly latencies: readonly LatencyValue[];
  readonly fit: WaitModelFit;
}

/**
 * Below this probability that both groups scatter by one law, their presses may not be exchanged freely. Low, because
 * few presses can hardly tell: 5 against 45 of one chain give 0.5 (tests/accuracy/).
 */
const ONE_LAW_DOUBTED = 0.2;
/** Laws of less probability than this do not touch an estimate. */
const NEGLIGIBLE_LAW = 1e-3;
/** Likelihood, ln, below the largest that is left out of a mean. */
const NEGLIGIBLE_LOG = -16;
/** Steps of the delay's lattice between two trial shifts. */
const STEPS_PER_TRIAL = 2;
/** Standard deviations of the less certain delay, and of the difference, that the lattice reaches to both sides. */
const REACH = { delay: 4, difference: 1.5 } as const;
/** No density below this, 1/ms: one wild press does not rule out every delay. */
const LEAST_DENSITY = 1e-20;

/**
 * Distribution of the delay of x less that of y. The posteriors of two fits alone are no good guide: a prior on jitter
 * that covers a chain with 1 ms of it covers one without 99 times in 100. Where the groups scatter by one law, presses
 * are exchanged instead: the estimate is the mean over the delay of the likelihood (Pitman 1939) under that law, and
 * its distribution that of a permutation test. Where the laws are shown to differ, by as much the posteriors count.
 * @param posteriors distribution of the difference by the two fits alone
 */
export function delayShift(x: FittedPresses, y: FittedPresses, posteriors: GridDensity): GridDensity {
  const law = oneLaw(x.fit, y.fit);
  if (law === null) return posteriors;
  const exchanged = shiftByExchange(posteriors, delaysExchanged(x, y, posteriors, law.density));
  if (law.probability > ONE_LAW_DOUBTED) return exchanged;
  return mixDensities([
    { density: exchanged, share: law.probability },
    { density: posteriors, share: 1 - law.probability },
  ]);
}

/**
 * What scatters the presses if one law scatters both groups, and how probable that is against a law each, evens before
 * the data; null where the fits weighed different laws (a period is known of one alone).
 */
function oneLaw(
  x: WaitModelFit,
  y: WaitModelFit,
): { readonly probability: number; readonly density: PressLaw['density'] } | null {
  if ((x.periodMs === null) !== (y.periodMs === null)) return null;
  const joint = x.laws.map((law, k) => law.logPrior + law.logEvidence + y.laws[k]!.logEvidence);
  const shared = logSumExp(joint);
  if (shared === Number.NEGATIVE_INFINITY) return null;
  const evidence = (fit: WaitModelFit): number =>
    logSumExp(fit.laws.map((law) => law.logPrior + law.logEvidence));
  const own = evidence(x) + evidence(y) - logSumExp(x.laws.map((law) => law.logPrior));
  const kept = x.laws.flatMap(({ density }, k) => {
    const weight = Math.exp(joint[k]! - shared);
    return weight > NEGLIGIBLE_LAW ? [{ weight, density }] : [];
  });
  return {
    probability: 1 / (1 + Math.exp(own - shared)),
    density: (residual, u) => kept.reduce((sum, k) => sum + k.weight * k.density(residual, u), 0),
  };
}

/** Likelihood of every press on a lattice of delays, so that a split costs sums alone. */
function delaysExchanged(
  x: FittedPresses,
  y: FittedPresses,
  posteriors: GridDensity,
  density: PressLaw['density'],
): (trial: number, shift: number) => Exchanged {
  const { mean: centre, sd } = densityMoments(posteriors);
  const step = trialSpacing(posteriors) / STEPS_PER_TRIAL;
  const widest = Math.max(...[x, y].map(({ fit }) => weightedMoments(fit.delayPosterior).sd));
  const half = Math.ceil((REACH.delay * widest + REACH.difference * sd) / step);
  const points = 2 * half + 1;
  const margin = MOST_TRIALS * STEPS_PER_TRIAL;
  const low = y.fit.fixedDelayMs - half * step;
  const rowsOf = (latencies: readonly LatencyValue[], byMs: number, beside: number): Float64Array[] =>
    latencies.map(({ valueMs, uncertaintyMs }) =>
      Float64Array.from({ length: points + 2 * beside }, (_, j) =>
        Math.log(Math.max(LEAST_DENSITY, density(valueMs - byMs - low - (j - beside) * step, uncertaintyMs))),
      ),
    );
  const rowsX = rowsOf(x.latencies, centre, margin);
  const rowsY = rowsOf(y.latencies, 0, 0);
  // Splits draw the smaller group; the other one is the rest.
  const xIsDrawn = rowsX.length <= rowsY.length;
  const first = Math.min(rowsX.length, rowsY.length);
  const total = rowsX.length + rowsY.length;
  const splits = randomSplits(total, first);
  const table = new Float64Array(total * points);
  const all = new Float64Array(points);
  const drawn = new Float64Array(points);
  const rest = new Float64Array(points);
  const difference = (members: Uint16Array): number => {
    sumRows(table, members, drawn);
    for (let j = 0; j < points; j += 1) rest[j] = all[j]! - drawn[j]!;
    const found = step * (meanIndex(drawn) - meanIndex(rest));
    return xIsDrawn ? found : -found;
  };
  const everyone = Uint16Array.from({ length: total }, (_, i) => i);
  return (trial) => {
    const from = margin + trial * STEPS_PER_TRIAL;
    const moved = rowsX.map((row) => row.subarray(from, from + points));
    const rows = xIsDrawn ? [...moved, ...rowsY] : [...rowsY, ...moved];
    rows.forEach((row, i) => {
      table.set(row, i * points);
    });
    sumRows(table, everyone, all);
    return {
      observed: difference(everyone.subarray(0, first)),
      splits: Float64Array.from(splits, difference),
    };
  };
}

/** Sums rows of a table, each as long as the sum. */
function sumRows(table: Float64Array, rows: Uint16Array, sum: Float64Array): void {
  const points = sum.length;
  sum.fill(0);
  for (let r = 0; r < rows.length; r += 1) {
    const at = rows[r]! * points;
    for (let j = 0; j < points; j += 1) sum[j]! += table[at + j]!;
  }
}

/** Mean position of a likelihood given by its logarithms, in steps. */
function meanIndex(logs: Float64Array): number {
  let largest = Number.NEGATIVE_INFINITY;
  for (let j = 0; j < logs.length; j += 1) if (logs[j]! > largest) largest = logs[j]!;
  let weight = 0;
  let moment = 0;
  for (let j = 0; j < logs.length; j += 1) {
    const below = logs[j]! - largest;
    if (below < NEGLIGIBLE_LOG) continue;
    const w = Math.exp(below);
    weight += w;
    moment += w * j;
  }
  return moment / weight;
}
