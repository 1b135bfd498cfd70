/**
 * The wait model: a latency is a fixed delay, a wait that nobody is to blame for (uniform over one period), jitter of
 * the chain, and measurement error. This file weighs the hypotheses and words the answer.
 */
import { expected } from '../errors.js';
import { type Hypothesis, type JitterShape, logSumExp, type PressLaw, type WaitData } from './hypothesis.js';
import { lateRefresh } from './lateRefresh.js';
import {
  gaussianJitter,
  noWait,
  oneRefresh,
  uniformJitter,
  unknownWait,
  wideJitter,
} from './waitHypotheses.js';
import {
  blurredQuantiles,
  type WeightedPoints,
  weightedMoments,
  weightedQuantiles,
} from './weightedPosterior.js';

/** One latency with its own measurement uncertainty. */
export interface LatencyValue {
  readonly valueMs: number;
  /** Standard uncertainty (k = 1) of this value alone, without what all values share, ms. */
  readonly uncertaintyMs: number;
}

/** What is known beside the latencies. */
export interface WaitModelOptions {
  /** Period of the wait (refresh or poll), ms; null where it is not known. */
  readonly periodMs: number | null;
  /** Standard uncertainty that all values share (rate, rows, LED), ms; widens the delay's interval. Default 0. */
  readonly commonUncertaintyMs?: number;
  /**
   * Spread (sd) up to which a lag still counts as fixed, ms. Default an eighth of the period (2.1 ms at 60 Hz; the
   * sd of a uniform jitter of 0.43 periods), or 1 ms without a period.
   */
  readonly jitterToleranceMs?: number;
}

/** The wait model's answer. All in ms. */
export interface WaitModelFit {
  readonly n: number;
  readonly periodMs: number | null;
  /** Most probable model: no wait; a wait of one period; such a wait and jitter. */
  readonly model: 'no-wait' | 'one-refresh' | 'jitter';
  /** Most probable form of the jitter within that model. */
  readonly jitterShape: JitterShape;
  /** Posterior median of the spread (sd) given that form; 0 where the form is none. */
  readonly shapeJitterMs: number;
  /**
   * Posterior median of the chain's own delay, without the wait. Jitter is counted about its middle; presses that a
   * late-refresh hypothesis calls late do not count.
   */
  readonly fixedDelayMs: number;
  /** Posterior standard deviation of the delay, the common uncertainty included. */
  readonly fixedDelayUncertaintyMs: number;
  /** 95 % interval of the delay over all hypotheses, the common uncertainty included. */
  readonly intervalMs: readonly [number, number];
  /** Posterior median of the spread (sd) that neither wait nor measurement explains, over all hypotheses. */
  readonly jitterMs: number;
  /** 95 % interval of that spread, over all hypotheses. */
  readonly jitterIntervalMs: readonly [number, number];
  readonly lag: 'fixed' | 'variable' | 'undecided';
  /** Spread up to which a lag counts as fixed. */
  readonly jitterToleranceMs: number;
  /** Posterior probability that the spread exceeds the tolerance, over all hypotheses. */
  readonly variableProbability: number;
  /** Two-edge bound [max - period, min], without measurement error; null without a period. */
  readonly twoEdgeBoundMs: readonly [number, number] | null;
  /** Posterior probability of each hypothesis. */
  readonly probabilities: Readonly<Record<string, number>>;
  /** Bayesian information criterion of each hypothesis (lower is better). */
  readonly bic: Readonly<Record<string, number>>;
  /** The delay's posterior over all hypotheses, ms, without the common uncertainty: the likelihood of this sample's delay. */
  readonly delayPosterior: WeightedPoints;
  /** Every way in which the presses may scatter that was weighed; the same list for every sample of one period. */
  readonly laws: readonly PressLaw[];
}

/** Smallest measurement uncertainty that is believed, as a share of the period: keeps the likelihood finite. */
const SMALLEST_UNCERTAINTY_SHARE = 5e-4;
const DEFAULT_PERIOD_MS = 1000 / 60;

/**
 * Prior probabilities. The weight on exactly no jitter against the weight spread over some is what sets the coverage of
 * the delay's interval: more on none, and chains with 1 ms of jitter are covered too seldom; less, and chains without
 * are covered too often. These give 97 to 98 % without jitter and 94 to 95 % with 0 to 2 ms (tests/accuracy/).
 */
const PRIOR = { noWait: 0.1, oneRefresh: 0.35, gaussian: 0.35, uniform: 0.1, late: 0.1, wide: 0.05 } as const;
/** Scale of Gaussian jitter beside a wait, in periods: weakly informative, 1.7 ms at 60 Hz; more is left to the uniform and late hypotheses. */
const GAUSSIAN_SCALE = 0.1;
/** Scale of jitter without a wait, in periods: 'no wait' must mean a spread well below that of a wait. */
const NO_WAIT_SCALE = 1 / 16;
/** Widest uniform jitter, in periods. */
const WIDEST_UNIFORM = 1.5;
/** Widths beyond, in periods. They explain what nothing else can, so that their prior hardly touches the other calls. */
const WIDE = [1.5, 6] as const;
/** Spreads that are thought of when no period is known, ms. */
const UNKNOWN_WIDTHS_MS = [0.5, 100] as const;
const UNKNOWN_SCALE_MS = 3;

/**
 * Beyond these posterior probabilities the lag is called. Set by simulation (u = 0.2 to 0.7 ms): at 20 presses 1 to 2 % of chains
 * with a uniform jitter of one display frame are called fixed, and below 0.5 % of fixed ones variable.
 */
const CALL_FIXED_BELOW = 0.065;
const CALL_VARIABLE_ABOVE = 0.4;

/**
 * Fits delay D and jitter jointly: f(L | D, s) = [Phi((L-D)/sig) - Phi((L-D-R)/sig)] / R, sig^2 = s^2 + u^2, and the
 * neighbouring hypotheses (no wait; uniform jitter; refreshes missed whole), by integrating the likelihood over grids
 * with a flat prior on D. With s known the interval of D has exactly its nominal coverage (Pitman 1939: flat prior on
 * a location); the rest is checked by simulation in tests/accuracy/.
 * @param latencies at least one; uncertainties at least 0
 * @throws UsageError for no latencies, or values that are not finite
 */
export function fitWaitModel(latencies: readonly LatencyValue[], options: WaitModelOptions): WaitModelFit {
  const { periodMs, commonUncertaintyMs = 0 } = options;
  if (periodMs !== null && !(periodMs > 0 && Number.isFinite(periodMs))) {
    throw expected('periodMs', 'a positive number or null', periodMs);
  }
  if (!(commonUncertaintyMs >= 0)) throw expected('commonUncertaintyMs', 'at least 0', commonUncertaintyMs);
  const data = prepare(latencies, (periodMs ?? DEFAULT_PERIOD_MS) * SMALLEST_UNCERTAINTY_SHARE);
  const hypotheses =
    periodMs === null
      ? [noWait(data, UNKNOWN_SCALE_MS, 0.5), unknownWait(data, UNKNOWN_WIDTHS_MS, 0.5)]
      : [
          noWait(data, NO_WAIT_SCALE * periodMs, PRIOR.noWait),
          oneRefresh(data, periodMs, PRIOR.oneRefresh),
          gaussianJitter(data, periodMs, GAUSSIAN_SCALE * periodMs, PRIOR.gaussian),
          uniformJitter(data, periodMs, WIDEST_UNIFORM * periodMs, PRIOR.uniform),
          lateRefresh(data, periodMs, PRIOR.late),
          wideJitter(data, periodMs, [WIDE[0] * periodMs, WIDE[1] * periodMs], PRIOR.wide),
        ];
  const jitterToleranceMs = options.jitterToleranceMs ?? (periodMs === null ? 1 : periodMs / 8);
  return answer(data, hypotheses, periodMs, commonUncertaintyMs, jitterToleranceMs);
}

function prepare(latencies: readonly LatencyValue[], smallestUncertaintyMs: number): WaitData {
  if (latencies.length === 0) throw expected('latencies', 'at least one latency', 0);
  for (const { valueMs, uncertaintyMs } of latencies) {
    if (!Number.isFinite(valueMs)) throw expected('valueMs', 'a finite number', valueMs);
    if (!(uncertaintyMs >= 0 && Number.isFinite(uncertaintyMs))) {
      throw expected('uncertaintyMs', 'a finite number of at least 0', uncertaintyMs);
    }
  }
  const latenciesMs = Float64Array.from(latencies, (l) => l.valueMs);
  const uncertaintiesMs = Float64Array.from(latencies, (l) =>
    Math.max(l.uncertaintyMs, smallestUncertaintyMs),
  );
  return {
    latenciesMs,
    uncertaintiesMs,
    minimumMs: Math.min(...latenciesMs),
    maximumMs: Math.max(...latenciesMs),
    largestUncertaintyMs: Math.max(...uncertaintiesMs),
  };
}

function answer(
  data: WaitData,
  hypotheses: readonly Hypothesis[],
  periodMs: number | null,
  commonUncertaintyMs: number,
  jitterToleranceMs: number,
): WaitModelFit {
  const n = data.latenciesMs.length;
  const logPosteriors = hypotheses.map((h) => h.logEvidence + Math.log(h.priorProbability));
  const logTotal = logSumExp(logPosteriors);
  const probabilityOf = hypotheses.map((_, k) => Math.exp(logPosteriors[k]! - logTotal));

  const delays: number[] = [];
  const jitters: number[] = [];
  const weights: number[] = [];
  let variableProbability = 0;
  hypotheses.forEach((h, k) => {
    const offset = Math.log(h.priorProbability) - logTotal;
    h.logWeights.forEach((logWeight, i) => {
      const weight = Math.exp(logWeight + offset);
      if (h.jittersMs[i]! > jitterToleranceMs) variableProbability += weight;
      if (weight < 1e-9 * probabilityOf[k]! || weight < 1e-12) return;
      delays.push(h.delaysMs[i]!);
      jitters.push(h.jittersMs[i]!);
      weights.push(weight);
    });
  });

  const { model, best } = choose(hypotheses);
  // Over all hypotheses: within the model without jitter the spread would be 0 by definition, which says nothing.
  const jitterPoints = { values: jitters, weights };
  const posterior = { values: delays, weights };
  const [low, middle, high] = blurredQuantiles(posterior, commonUncertaintyMs, [0.025, 0.5, 0.975]);
  const [jitterLow, jitterMiddle, jitterHigh] = weightedQuantiles(jitterPoints, [0.025, 0.5, 0.975]);
  return {
    n,
    periodMs,
    model,
    jitterShape: best.shape,
    shapeJitterMs: medianJitter(best),
    fixedDelayMs: middle!,
    fixedDelayUncertaintyMs: Math.hypot(weightedMoments(posterior).sd, commonUncertaintyMs),
    intervalMs: [low!, high!],
    jitterMs: jitterMiddle!,
    jitterIntervalMs: [jitterLow!, jitterHigh!],
    lag: callLag(variableProbability, periodMs),
    jitterToleranceMs,
    variableProbability,
    twoEdgeBoundMs: periodMs === null ? null : [data.maximumMs - periodMs, data.minimumMs],
    probabilities: Object.fromEntries(hypotheses.map((h, k) => [h.name, probabilityOf[k]!])),
    bic: Object.fromEntries(
      hypotheses.map((h) => [h.name, -2 * h.maxLogLikelihood + h.parameters * Math.log(n)]),
    ),
    delayPosterior: posterior,
    laws: hypotheses.flatMap((h) => h.laws),
  };
}

/** The model whose evidence is largest when the three models start equal, and its most probable form of jitter. */
function choose(hypotheses: readonly Hypothesis[]): { model: Hypothesis['model']; best: Hypothesis } {
  const models = [...new Set(hypotheses.map((h) => h.model))];
  const scored = models.map((model) => {
    const members = hypotheses.filter((h) => h.model === model);
    const priorOfAll = members.reduce((sum, h) => sum + h.priorProbability, 0);
    const logShares = members.map((h) => h.logEvidence + Math.log(h.priorProbability / priorOfAll));
    const best = logShares.indexOf(Math.max(...logShares));
    return { model, logEvidence: logSumExp(logShares), best: members[best]! };
  });
  return scored.reduce((a, b) => (b.logEvidence > a.logEvidence ? b : a));
}

function medianJitter({ jittersMs, logWeights }: Hypothesis): number {
  const largest = Math.max(...logWeights);
  const weights = logWeights.map((w) => Math.exp(w - largest));
  return weightedQuantiles({ values: jittersMs, weights }, [0.5])[0]!;
}

function callLag(variableProbability: number, periodMs: number | null): WaitModelFit['lag'] {
  if (variableProbability < CALL_FIXED_BELOW) return 'fixed';
  // Without a period a wide spread may be nothing but the wait.
  if (variableProbability > CALL_VARIABLE_ABOVE && periodMs !== null) return 'variable';
  return 'undecided';
}
