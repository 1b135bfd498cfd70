/** What a hypothesis of the wait model is, before and after integration. */

/** Where a hypothesis says that the unexplained spread comes from. */
export type JitterShape = 'none' | 'gaussian' | 'uniform' | 'late-refresh';

/** The data in the form that the hypotheses need: equally long, ms. */
export interface WaitData {
  readonly latenciesMs: Float64Array;
  readonly uncertaintiesMs: Float64Array;
  readonly minimumMs: number;
  readonly maximumMs: number;
  readonly largestUncertaintyMs: number;
}

/** One way in which presses may scatter about their delay, and what the data say of it. */
export interface PressLaw {
  /** ln of its prior probability, that of its hypothesis included. */
  readonly logPrior: number;
  /** ln of the likelihood integrated over the delay; -Infinity where it is negligible. */
  readonly logEvidence: number;
  /** Density of latency - delay at x ms for a measurement uncertainty of u ms, 1/ms. */
  readonly density: (x: number, u: number) => number;
}

/** One hypothesis after integration. Parallel arrays hold its posterior as weighted points. */
export interface Hypothesis {
  /** Unique name, used as a key of the criteria in the record. */
  readonly name: string;
  readonly model: 'no-wait' | 'one-refresh' | 'jitter';
  readonly shape: JitterShape;
  /** Fitted numbers, the delay included (for the information criterion). */
  readonly parameters: number;
  readonly priorProbability: number;
  /** ln of the likelihood integrated over all parameters, flat prior of density 1 per ms on the delay. */
  readonly logEvidence: number;
  readonly maxLogLikelihood: number;
  /** Delay, ms, in the sense of `fixedDelayMs` of the fit. */
  readonly delaysMs: readonly number[];
  /** Standard deviation of the unexplained spread, ms, parallel to `delaysMs`. */
  readonly jittersMs: readonly number[];
  /** ln weight of each point; integrates to e^logEvidence. */
  readonly logWeights: readonly number[];
  /** One a grid node, the same nodes in the same order for all data of one period. */
  readonly laws: readonly PressLaw[];
}

/** ln of the sum of e^x. */
export function logSumExp(values: readonly number[]): number {
  let largest = Number.NEGATIVE_INFINITY;
  for (const v of values) if (v > largest) largest = v;
  if (largest === Number.NEGATIVE_INFINITY) return largest;
  let sum = 0;
  for (const v of values) sum += Math.exp(v - largest);
  return largest + Math.log(sum);
}
