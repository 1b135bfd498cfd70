/**
 * The hypotheses that the wait model weighs: each a family of densities for one latency, integrated over the delay and
 * over the family's own parameter on a grid.
 */

import { normalLogPdf } from '../numeric/normal.js';
import { type Hypothesis, logSumExp, type PressLaw, type WaitData } from './hypothesis.js';
import { locationPosterior } from './locationPosterior.js';
import { logTwoWaitsShape, logWaitShape } from './waitDensity.js';

/** A grid node whose peak lies this far (ln) below the best is left out. */
const NEGLIGIBLE = 16;

/** ln of a density of latency - delay up to a constant, given the sd of all that is Gaussian: of one latency, and of all. */
interface Law {
  readonly log: (x: number, sigma: number, waitMs: number, secondWaitMs: number) => number;
  /**
   * The sum of it over all latencies for a delay, begun at `from`. Each law has a loop of its own: a call that leads elsewhere
   * with every node is what one loop for all would spend a fifth of its time on.
   */
  readonly sumOfLogs: (
    latenciesMs: Float64Array,
    sigmasMs: Float64Array,
    delayMs: number,
    from: number,
    waitMs: number,
    secondWaitMs: number,
  ) => number;
}

const logNormal = (x: number, sigma: number): number => normalLogPdf(x / sigma) - Math.log(sigma);

const NORMAL: Law = {
  log: logNormal,
  sumOfLogs(latenciesMs, sigmasMs, delayMs, from) {
    let sum = from;
    for (let i = 0; i < latenciesMs.length; i += 1) sum += logNormal(latenciesMs[i]! - delayMs, sigmasMs[i]!);
    return sum;
  },
};

const WAIT: Law = {
  log: logWaitShape,
  sumOfLogs(latenciesMs, sigmasMs, delayMs, from, waitMs) {
    let sum = from;
    for (let i = 0; i < latenciesMs.length; i += 1) {
      sum += logWaitShape(latenciesMs[i]! - delayMs, sigmasMs[i]!, waitMs);
    }
    return sum;
  },
};

const TWO_WAITS: Law = {
  log: logTwoWaitsShape,
  sumOfLogs(latenciesMs, sigmasMs, delayMs, from, waitMs, secondWaitMs) {
    let sum = from;
    for (let i = 0; i < latenciesMs.length; i += 1) {
      sum += logTwoWaitsShape(latenciesMs[i]! - delayMs, sigmasMs[i]!, waitMs, secondWaitMs);
    }
    return sum;
  },
};

interface GridNode {
  /** Standard deviation of the jitter, ms. */
  readonly jitterMs: number;
  /** ln of prior density times grid step. */
  readonly logPrior: number;
  /** Added to the location of the density to give the reported delay, ms. */
  readonly delayShiftMs: number;
  readonly law: Law;
  /** What the law is given; 0 where it has no such wait. */
  readonly waitsMs: readonly [first: number, second: number];
  /** ln of the constant by which the law is too large, per latency. */
  readonly logScale: number;
  /** Width of the noiseless density, ms. */
  readonly widthMs: number;
  /** Gaussian part beside the measurement uncertainty, ms. */
  readonly gaussianMs: number;
}

function integrate(
  data: WaitData,
  identity: Pick<Hypothesis, 'name' | 'model' | 'shape' | 'parameters' | 'priorProbability'>,
  nodes: readonly GridNode[],
): Hypothesis {
  const { latenciesMs, uncertaintiesMs, minimumMs, maximumMs, largestUncertaintyMs } = data;
  const delaysMs: number[] = [];
  const jittersMs: number[] = [];
  const logWeights: number[] = [];
  const laws: PressLaw[] = [];
  const n = latenciesMs.length;
  let maxLogLikelihood = Number.NEGATIVE_INFINITY;
  let bestNode = Number.NEGATIVE_INFINITY;
  for (const node of nodes) {
    const sigmas = Float64Array.from(uncertaintiesMs, (u) => Math.sqrt(u * u + node.gaussianMs ** 2));
    const from = -n * node.logScale;
    const { sumOfLogs } = node.law;
    const [first, second] = node.waitsMs;
    const logLikelihood = (delay: number) => sumOfLogs(latenciesMs, sigmas, delay, from, first, second);
    // The best delay lies between the one that fits the slowest press and the one that fits the fastest.
    const pad = 1e-6 + 4 * Math.hypot(node.gaussianMs, largestUncertaintyMs);
    const ends = [maximumMs - node.widthMs, minimumMs];
    const posterior = locationPosterior(
      logLikelihood,
      Math.min(...ends) - pad,
      Math.max(...ends) + pad,
      bestNode - NEGLIGIBLE - node.logPrior,
    );
    laws.push({
      logPrior: Math.log(identity.priorProbability) + node.logPrior,
      logEvidence: posterior?.logIntegral ?? Number.NEGATIVE_INFINITY,
      density: (x, u) =>
        Math.exp(
          node.law.log(x + node.delayShiftMs, Math.hypot(u, node.gaussianMs), first, second) - node.logScale,
        ),
    });
    if (posterior === null) continue;
    bestNode = Math.max(bestNode, posterior.maxLogLikelihood + node.logPrior);
    maxLogLikelihood = Math.max(maxLogLikelihood, posterior.maxLogLikelihood);
    const step = posterior.locations[1]! - posterior.locations[0]!;
    const base = posterior.maxLogLikelihood + Math.log(step) + node.logPrior;
    for (let i = 0; i < posterior.locations.length; i += 1) {
      const relative = posterior.relativeLikelihoods[i]!;
      if (relative < 1e-7) continue;
      delaysMs.push(posterior.locations[i]! + node.delayShiftMs);
      jittersMs.push(node.jitterMs);
      logWeights.push(base + Math.log(relative));
    }
  }
  return {
    ...identity,
    logEvidence: logSumExp(logWeights),
    maxLogLikelihood,
    delaysMs,
    jittersMs,
    logWeights,
    laws,
  };
}

/** Grid of a scale parameter, finer near zero, with half-normal prior of the given scale. */
function halfNormalGrid(scale: number, count: number): { value: number; logPrior: number }[] {
  const top = 3.5 * scale;
  return Array.from({ length: count }, (_, k) => {
    const middle = (k + 0.5) / count;
    const value = top * middle * middle;
    const step = top * (((k + 1) / count) ** 2 - (k / count) ** 2);
    return { value, logPrior: Math.log(2 * step) + normalLogPdf(value / scale) - Math.log(scale) };
  });
}

const GAUSSIAN_NODES = 20;
const WIDTH_NODES = 16;
const WIDE_NODES = 10;

/** No wait at all: delay + N(0, s^2), s half-normal of the given scale. */
export function noWait(data: WaitData, scaleMs: number, priorProbability: number): Hypothesis {
  const nodes = halfNormalGrid(scaleMs, GAUSSIAN_NODES).map(
    ({ value, logPrior }): GridNode => ({
      jitterMs: value,
      logPrior,
      delayShiftMs: 0,
      widthMs: 0,
      gaussianMs: value,
      logScale: 0,
      law: NORMAL,
      waitsMs: [0, 0],
    }),
  );
  const identity = { name: 'no-wait', model: 'no-wait', shape: 'gaussian', parameters: 2 } as const;
  return integrate(data, { ...identity, priorProbability }, nodes);
}

/** A wait of one period and nothing else: delay + U(0, R). */
export function oneRefresh(data: WaitData, periodMs: number, priorProbability: number): Hypothesis {
  const node: GridNode = {
    jitterMs: 0,
    logPrior: 0,
    delayShiftMs: 0,
    widthMs: periodMs,
    gaussianMs: 0,
    logScale: Math.log(periodMs),
    law: WAIT,
    waitsMs: [periodMs, 0],
  };
  const identity = { name: 'one-refresh', model: 'one-refresh', shape: 'none', parameters: 1 } as const;
  return integrate(data, { ...identity, priorProbability }, [node]);
}

/** A wait and Gaussian jitter: delay + U(0, R) + N(0, s^2), s half-normal of the given scale. */
export function gaussianJitter(
  data: WaitData,
  periodMs: number,
  scaleMs: number,
  priorProbability: number,
): Hypothesis {
  const nodes = halfNormalGrid(scaleMs, GAUSSIAN_NODES).map(
    ({ value, logPrior }): GridNode => ({
      jitterMs: value,
      logPrior,
      delayShiftMs: 0,
      widthMs: periodMs,
      gaussianMs: value,
      logScale: Math.log(periodMs),
      law: WAIT,
      waitsMs: [periodMs, 0],
    }),
  );
  const identity = { name: 'gaussian-jitter', model: 'jitter', shape: 'gaussian', parameters: 2 } as const;
  return integrate(data, { ...identity, priorProbability }, nodes);
}

/** A wait and uniform jitter: delay + U(0, R) + U(-w/2, w/2), w uniform up to `largestWidthMs`. */
export function uniformJitter(
  data: WaitData,
  periodMs: number,
  largestWidthMs: number,
  priorProbability: number,
): Hypothesis {
  const nodes = Array.from({ length: WIDTH_NODES }, (_, k): GridNode => {
    const width = (largestWidthMs * (k + 0.5)) / WIDTH_NODES;
    return { ...jitterNode(periodMs, width), logPrior: -Math.log(WIDTH_NODES) };
  });
  const identity = { name: 'uniform-jitter', model: 'jitter', shape: 'uniform', parameters: 2 } as const;
  return integrate(data, { ...identity, priorProbability }, nodes);
}

/**
 * A wait and uniform jitter far wider than a refresh (buffers that fill and empty): as `uniformJitter`, w log-uniform
 * between two widths.
 */
export function wideJitter(
  data: WaitData,
  periodMs: number,
  widthsMs: readonly [number, number],
  priorProbability: number,
): Hypothesis {
  const ratio = Math.log(widthsMs[1] / widthsMs[0]);
  const nodes = Array.from({ length: WIDE_NODES }, (_, k): GridNode => {
    const width = widthsMs[0] * Math.exp((ratio * (k + 0.5)) / WIDE_NODES);
    return { ...jitterNode(periodMs, width), logPrior: -Math.log(WIDE_NODES) };
  });
  const identity = { name: 'wide-jitter', model: 'jitter', shape: 'uniform', parameters: 2 } as const;
  return integrate(data, { ...identity, priorProbability }, nodes);
}

/** Delay + U(0, R) + U(-w/2, w/2), without a prior. */
function jitterNode(periodMs: number, width: number): Omit<GridNode, 'logPrior'> {
  return {
    jitterMs: width / Math.sqrt(12),
    delayShiftMs: width / 2,
    widthMs: periodMs + width,
    gaussianMs: 0,
    logScale: Math.log(periodMs * width),
    law: TWO_WAITS,
    waitsMs: [periodMs, width],
  };
}

/** A uniform spread of unknown width (period not known): delay + U(0, w), w log-uniform between two widths. */
export function unknownWait(
  data: WaitData,
  widthsMs: readonly [number, number],
  priorProbability: number,
): Hypothesis {
  const ratio = Math.log(widthsMs[1] / widthsMs[0]);
  const count = 2 * WIDTH_NODES;
  const nodes = Array.from({ length: count }, (_, k): GridNode => {
    const width = widthsMs[0] * Math.exp((ratio * (k + 0.5)) / count);
    return {
      jitterMs: width / Math.sqrt(12),
      logPrior: -Math.log(count),
      delayShiftMs: 0,
      widthMs: width,
      gaussianMs: 0,
      logScale: Math.log(width),
      law: WAIT,
      waitsMs: [width, 0],
    };
  });
  const identity = { name: 'unknown-wait', model: 'one-refresh', shape: 'uniform', parameters: 2 } as const;
  return integrate(data, { ...identity, priorProbability }, nodes);
}
