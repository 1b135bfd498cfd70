/** From thumb to eye: measured latencies and stages known from elsewhere, added as distributions (JCGM 101:2008). */
import { expected } from '../errors.js';
import type { SeededRandom } from '../numeric/seededRandom.js';
import type { Budget, BudgetPart, BudgetStage, BudgetTotal } from '../record/comparison.js';
import { densityQuantiles, type GridDensity } from '../stats/gridDensity.js';
import { propagate } from '../stats/monteCarlo.js';
import { quantile } from '../stats/quantile.js';
import { centreOf } from '../stats/randomEffects.js';
import type { WaitModelFit } from '../stats/waitModel.js';
import type { GroupEstimate, GroupEstimates } from './groupEstimates.js';
import { jitterRange } from './jitterRange.js';
import { uncancelledMs } from './measuredRegion.js';

/** Nineteen of twenty presses lie between best and worst. */
const COVERAGE = 0.95;
const [LOW, HIGH] = [(1 - COVERAGE) / 2, (1 + COVERAGE) / 2];
/** Fixed, so that the same records give the same bytes. */
const SEED = 1;
/** Steps of the inverse distribution function from which delays are drawn. */
const DELAY_STEPS = 2000;

/**
 * The budget of every group. A stage is rectangular within its half width (JCGM 100:2008, 4.3.7); a measured latency is
 * the fixed delay with its uncertainty, the wait, and the jitter of the form that the presses support; where no refresh
 * is known, the presses as measured.
 * @returns null without stages
 */
export function budgetOf(estimates: GroupEstimates, stages: readonly BudgetStage[]): Budget | null {
  if (stages.length === 0) return null;
  for (const { name, valueMs, halfWidthMs } of stages) {
    if (!Number.isFinite(valueMs)) throw expected(`stage ${name}`, 'a finite number of ms', valueMs);
    if (!(halfWidthMs >= 0))
      throw expected(`stage ${name}`, 'known within a half width of at least 0 ms', halfWidthMs);
  }
  return { stages, totals: estimates.groups.map((group) => totalOf(group, estimates, stages)) };
}

interface DrawnPart extends BudgetPart {
  readonly draw: (random: SeededRandom) => number;
}

function totalOf(
  estimate: GroupEstimate,
  { delays }: GroupEstimates,
  stages: readonly BudgetStage[],
): BudgetTotal {
  const { group, spread, periodMs, delayIndex, sharedErrorsMs } = estimate;
  const measured =
    spread !== null && periodMs !== null && delays !== null && delayIndex !== null
      ? modelParts(centreOf(delays, delayIndex, uncancelledMs(sharedErrorsMs)), spread, periodMs)
      : [pressesPart(estimate.latenciesMs)];
  const parts = [...measured, ...stages.map(stagePart)];
  const total = propagate((random) => parts.reduce((sum, part) => sum + part.draw(random), 0), {
    seed: SEED,
    confidence: COVERAGE,
  });
  const [bestMs, worstMs] = total.symmetricInterval;
  const inFrames = (ms: number): number | null => (periodMs === null ? null : ms / periodMs);
  return {
    labels: group.labels,
    name: group.name,
    region: group.region,
    bestMs,
    typicalMs: total.median,
    worstMs,
    bestDisplayFrames: inFrames(bestMs),
    typicalDisplayFrames: inFrames(total.median),
    worstDisplayFrames: inFrames(worstMs),
    parts: parts.map(({ name, kind, typicalMs, rangeMs }) => ({ name, kind, typicalMs, rangeMs })),
  };
}

function modelParts(delay: GridDensity, spread: WaitModelFit, periodMs: number): DrawnPart[] {
  const steps = densityQuantiles(
    delay,
    Array.from({ length: DELAY_STEPS }, (_, i) => (i + 0.5) / DELAY_STEPS),
  );
  const [low, typical, high] = densityQuantiles(delay, [LOW, 0.5, HIGH]);
  const fixed: DrawnPart = {
    name: 'fixed delay',
    kind: 'fixed-delay',
    typicalMs: typical!,
    rangeMs: [low!, high!],
    draw: (random) => steps[random.integer(DELAY_STEPS)]!,
  };
  const wait: DrawnPart = {
    name: 'wait for the refresh',
    kind: 'wait',
    typicalMs: periodMs / 2,
    rangeMs: [LOW * periodMs, HIGH * periodMs],
    draw: (random) => random.uniform(0, periodMs),
  };
  const jitter = jitterPart(spread, periodMs);
  return [fixed, ...(spread.model === 'no-wait' ? [] : [wait]), ...(jitter ? [jitter] : [])];
}

function jitterPart(spread: WaitModelFit, periodMs: number): DrawnPart | null {
  const { jitterShape, shapeJitterMs: jitterMs } = spread;
  if (jitterShape === 'none' || !(jitterMs > 0)) return null;
  const [low, high] = jitterRange(spread);
  const named = { name: 'jitter', kind: 'jitter' } as const;
  if (jitterShape === 'gaussian') {
    return { ...named, typicalMs: 0, rangeMs: [low, high], draw: (r) => r.normal(0, jitterMs) };
  }
  if (jitterShape === 'uniform') {
    const share = COVERAGE;
    return {
      ...named,
      typicalMs: 0,
      rangeMs: [share * low, share * high],
      draw: (r) => r.uniform(low, high),
    };
  }
  // sd = period sqrt(q (1 - q)) of a share q of late presses, at most a half.
  const late = 0.5 - Math.sqrt(Math.max(0, 0.25 - (jitterMs / periodMs) ** 2));
  return {
    ...named,
    typicalMs: 0,
    rangeMs: [0, late > 1 - HIGH ? periodMs : 0],
    draw: (r) => (r.uniform() < late ? periodMs : 0),
  };
}

function pressesPart(latenciesMs: readonly number[]): DrawnPart {
  return {
    name: 'measured presses (no refresh known)',
    kind: 'fixed-delay',
    typicalMs: quantile(latenciesMs, 0.5),
    rangeMs: [quantile(latenciesMs, LOW), quantile(latenciesMs, HIGH)],
    draw: (random) => latenciesMs[random.integer(latenciesMs.length)]!,
  };
}

function stagePart({ name, valueMs, halfWidthMs }: BudgetStage): DrawnPart {
  return {
    name,
    kind: 'stage',
    typicalMs: valueMs,
    rangeMs: [valueMs - COVERAGE * halfWidthMs, valueMs + COVERAGE * halfWidthMs],
    draw: (random) => random.uniform(valueMs - halfWidthMs, valueMs + halfWidthMs),
  };
}
