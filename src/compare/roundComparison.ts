/** Rounds a comparison's numbers at stated steps, so that equal records give equal bytes on every machine. */
import type { Comparison } from '../record/comparison.js';

/** A tenth of a microsecond in ms, a millionth elsewhere: far below every uncertainty. */
const MS_DECIMALS = 4;
const OTHER_DECIMALS = 6;

/** A copy with every number rounded; what a person stated is kept as it is. A number that is not finite is a fault. */
export function roundComparison(comparison: Comparison): Comparison {
  const { marginMs, budget, ...rest } = comparison;
  const rounded = roundValue(rest, '') as Omit<Comparison, 'marginMs' | 'budget'>;
  const { format, version, tool, by, baseline, groups, comparisons, betweenClips, zeroCheck, ...others } =
    rounded;
  const totals = budget && (roundValue(budget.totals, '') as NonNullable<Comparison['budget']>['totals']);
  return {
    format,
    version,
    tool,
    marginMs,
    by,
    baseline,
    groups,
    comparisons,
    betweenClips,
    zeroCheck,
    budget: budget && totals && { stages: budget.stages, totals },
    ...others,
  };
}

function roundValue(value: unknown, key: string): unknown {
  if (typeof value === 'number') {
    if (!Number.isFinite(value)) throw new Error(`the comparison's ${key} is not a finite number`);
    const result = Number(value.toFixed(/ms$/i.test(key) ? MS_DECIMALS : OTHER_DECIMALS));
    return Object.is(result, -0) ? 0 : result;
  }
  if (Array.isArray(value)) return value.map((v) => roundValue(v, key));
  if (typeof value === 'object' && value !== null) {
    return Object.fromEntries(Object.entries(value).map(([k, v]) => [k, roundValue(v, k)]));
  }
  return value;
}
