/** The hypothesis that a share of presses misses a whole refresh. */
import { type Hypothesis, logSumExp, type WaitData } from './hypothesis.js';
import { waitShape } from './waitDensity.js';

/** Grid points of the share of late presses. */
const LATE_NODES = 12;

/**
 * A wait, and a share q of presses one whole period late: delay + U(0, R) + R * Bernoulli(q), q uniform on (0, 1/2).
 * The likelihood has several peaks in the delay, so a plain grid over the whole range is used.
 */
export function lateRefresh(data: WaitData, periodMs: number, priorProbability: number): Hypothesis {
  const { latenciesMs, uncertaintiesMs, minimumMs, maximumMs, largestUncertaintyMs } = data;
  const n = latenciesMs.length;
  const pad = 1e-6 + 5 * largestUncertaintyMs;
  const low = Math.min(maximumMs - 2 * periodMs, minimumMs) - pad;
  const high = minimumMs + pad;
  const count = Math.min(500, Math.max(60, Math.ceil((high - low) / (periodMs / (60 + 3 * n)))));
  const step = (high - low) / (count - 1);
  const delaysMs: number[] = [];
  const jittersMs: number[] = [];
  const logWeights: number[] = [];
  const logLikelihoods: number[][] = Array.from({ length: LATE_NODES }, () => []);
  let maxLogLikelihood = Number.NEGATIVE_INFINITY;
  const logPrior = Math.log(step / LATE_NODES);
  const inTime = new Float64Array(n);
  const late = new Float64Array(n);
  const shares = Float64Array.from({ length: LATE_NODES }, (_, k) => lateShare(k));
  for (let j = 0; j < count; j += 1) {
    const delay = low + j * step;
    let hopeless = false;
    for (let i = 0; i < n; i += 1) {
      const x = latenciesMs[i]! - delay;
      inTime[i] = waitShape(x, uncertaintiesMs[i]!, periodMs);
      late[i] = waitShape(x - periodMs, uncertaintiesMs[i]!, periodMs);
      if (inTime[i]! + late[i]! < 1e-12) hopeless = true;
    }
    if (hopeless) continue;
    for (let k = 0; k < LATE_NODES; k += 1) {
      const share = shares[k]!;
      const logLikelihood = logProduct(inTime, late, share, -n * Math.log(periodMs));
      maxLogLikelihood = Math.max(maxLogLikelihood, logLikelihood);
      delaysMs.push(delay);
      jittersMs.push(periodMs * Math.sqrt(share * (1 - share)));
      logWeights.push(logLikelihood + logPrior);
      logLikelihoods[k]!.push(logLikelihood);
    }
  }
  const identity = { name: 'late-refresh', model: 'jitter', shape: 'late-refresh', parameters: 2 } as const;
  return {
    ...identity,
    priorProbability,
    logEvidence: logSumExp(logWeights),
    maxLogLikelihood,
    delaysMs,
    jittersMs,
    logWeights,
    laws: logLikelihoods.map((list, k) => ({
      logPrior: Math.log(priorProbability / LATE_NODES),
      logEvidence: logSumExp(list) + Math.log(step),
      density: (x, u) =>
        ((1 - lateShare(k)) * waitShape(x, u, periodMs) +
          lateShare(k) * waitShape(x - periodMs, u, periodMs)) /
        periodMs,
    })),
  };
}

/** The logarithm of the product of all densities with a share of late presses, begun at `from`. */
function logProduct(inTime: Float64Array, late: Float64Array, share: number, from: number): number {
  const rest = 1 - share;
  let sum = from;
  let product = 1;
  for (let i = 0; i < inTime.length; i += 1) {
    product *= rest * inTime[i]! + share * late[i]!;
    // One logarithm for several factors; each factor is at least 1e-14, so eight cannot underflow.
    if ((i & 7) === 7) {
      sum += Math.log(product);
      product = 1;
    }
  }
  return sum + Math.log(product);
}

/** Share of late presses of a grid node. */
function lateShare(node: number): number {
  return (0.5 * (node + 0.5)) / LATE_NODES;
}
