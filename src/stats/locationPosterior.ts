/** The posterior of a location under a flat prior, where its log likelihood is concave. */
import { goldenSection } from '../numeric/minimise.js';

/** A weighted sample of the likelihood of a location. */
export interface LocationPosterior {
  /** Evenly spaced locations that hold all but a negligible part of the likelihood. */
  readonly locations: Float64Array;
  /** Likelihood at each, relative to the largest. */
  readonly relativeLikelihoods: Float64Array;
  /** ln of the largest likelihood. */
  readonly maxLogLikelihood: number;
  /** ln of the integral of the likelihood over the location (a flat prior of density 1). */
  readonly logIntegral: number;
}

/** e^-DROP of the peak is neglected. */
const DROP = 12;
const POINTS = 48;

/**
 * Integrates a likelihood over a location by the trapezoidal rule, which for a function that dies away at both ends
 * is accurate far beyond its step (Trefethen & Weideman 2014).
 * @param logLikelihood concave in the location (a sum of log-concave densities shifted by it)
 * @param low start of a range that holds the peak
 * @param high end of that range
 * @param ignoreBelow a peak of the log likelihood below this is not worth integrating
 * @returns null where the peak lies below `ignoreBelow`
 */
export function locationPosterior(
  logLikelihood: (location: number) => number,
  low: number,
  high: number,
  ignoreBelow = Number.NEGATIVE_INFINITY,
): LocationPosterior | null {
  const span = Math.max(high - low, 1e-9 * (1 + Math.abs(low)));
  const peak = goldenSection((d) => -logLikelihood(d), low, high, span / 256);
  let best = -peak.value;
  // The search stops short of the peak; what it may have missed is far less than one unit.
  if (best < ignoreBelow - 1) return null;

  // Walk out in growing strides to where the likelihood has dropped, then halve back to a snug end.
  const end = (direction: 1 | -1): number => {
    let inside = peak.x;
    let stride = (span / 64) * direction;
    let outside = inside + stride;
    for (let step = 0; step < 60 && logLikelihood(outside) > best - DROP; step += 1) {
      inside = outside;
      stride *= 2;
      outside += stride;
    }
    for (let step = 0; step < 5; step += 1) {
      const middle = 0.5 * (inside + outside);
      if (logLikelihood(middle) > best - DROP) inside = middle;
      else outside = middle;
    }
    return outside;
  };
  let from = end(-1);
  let to = end(1);
  let logs = sample(logLikelihood, from, to);
  // A peak much narrower than the search steps: look again, closer.
  for (let zoom = 0; zoom < 6; zoom += 1) {
    best = Math.max(best, ...logs);
    let first = 0;
    while (first < POINTS - 1 && logs[first + 1]! < best - DROP) first += 1;
    let last = POINTS - 1;
    while (last > 0 && logs[last - 1]! < best - DROP) last -= 1;
    if (last - first > POINTS / 2.5) break;
    const step = (to - from) / (POINTS - 1);
    [from, to] = [from + first * step, from + last * step];
    logs = sample(logLikelihood, from, to);
  }
  best = Math.max(best, ...logs);
  const step = (to - from) / (POINTS - 1);
  let sum = 0;
  const locations = new Float64Array(POINTS);
  const relativeLikelihoods = new Float64Array(POINTS);
  for (let i = 0; i < POINTS; i += 1) {
    locations[i] = from + i * step;
    relativeLikelihoods[i] = Math.exp(logs[i]! - best);
    sum += relativeLikelihoods[i]!;
  }
  return {
    locations,
    relativeLikelihoods,
    maxLogLikelihood: best,
    logIntegral: best + Math.log(sum * step),
  };
}

function sample(f: (x: number) => number, from: number, to: number): Float64Array {
  const values = new Float64Array(POINTS);
  for (let i = 0; i < POINTS; i += 1) values[i] = f(from + ((to - from) * i) / (POINTS - 1));
  return values;
}
