/**
 * How a light settles after a change, and its exact integrals: sums of exponentials, so that every exposure is a
 * closed form (check values 1.1: a box exposure of an exponential response).
 */

/** s(t) = 1 + sum of amplitude * exp(-t / tau) for t > 0, and 0 before; the amplitudes add up to -1 (or there are none). */
export interface StepResponse {
  readonly terms: readonly { readonly amplitude: number; readonly tauS: number }[];
}

/** A step that settles at once. */
export const INSTANT: StepResponse = { terms: [] };

/**
 * An exponential of the time constant `tauMs` (10-90 % time: tau * ln 9), with an overshoot that decays with
 * `relaxMs`: s = 1 - (1 + amplitude) exp(-t/tau) + amplitude exp(-t/relax).
 */
export function exponentialStep(
  tauMs: number,
  overshoot: { readonly amplitude: number; readonly relaxMs: number } | null = null,
): StepResponse {
  if (tauMs <= 0) return INSTANT;
  if (!overshoot) return { terms: [{ amplitude: -1, tauS: tauMs / 1000 }] };
  return {
    terms: [
      { amplitude: -1 - overshoot.amplitude, tauS: tauMs / 1000 },
      { amplitude: overshoot.amplitude, tauS: overshoot.relaxMs / 1000 },
    ],
  };
}

/** s(t), t in s after the change. */
export function stepAt(step: StepResponse, tS: number): number {
  if (tS <= 0) return 0;
  let share = 1;
  for (const { amplitude, tauS } of step.terms) share += amplitude * Math.exp(-tS / tauS);
  return share;
}

/** Integral of s from 0 to t, s. */
export function stepIntegral(step: StepResponse, tS: number): number {
  if (tS <= 0) return 0;
  let sum = tS;
  for (const { amplitude, tauS } of step.terms) sum += amplitude * tauS * (1 - Math.exp(-tS / tauS));
  return sum;
}

/** Integral of the integral, s^2: what is needed to average over lines that are drawn one after another. */
export function stepDoubleIntegral(step: StepResponse, tS: number): number {
  if (tS <= 0) return 0;
  let sum = 0.5 * tS * tS;
  for (const { amplitude, tauS } of step.terms) {
    sum += amplitude * tauS * (tS - tauS * (1 - Math.exp(-tS / tauS)));
  }
  return sum;
}

/** Longest time constant of a response, s; 0 for an instant one. */
export function slowestTauS(step: StepResponse): number {
  return step.terms.reduce((longest, { tauS }) => Math.max(longest, tauS), 0);
}

/** Below this spread of delays the lines count as drawn at once; the differences would drown in rounding. */
const SAME_DELAY_S = 1e-7;

/**
 * Integral of s over the time from `fromS` to `toS` (s after the change's first line), averaged over lines that are
 * drawn evenly between the delays `firstS` and `lastS`. In s.
 */
export function scannedIntegral(
  step: StepResponse,
  fromS: number,
  toS: number,
  firstS: number,
  lastS: number,
): number {
  const spread = lastS - firstS;
  if (toS <= firstS) return 0;
  if (spread < SAME_DELAY_S) {
    const delay = 0.5 * (firstS + lastS);
    return stepIntegral(step, toS - delay) - stepIntegral(step, fromS - delay);
  }
  return (
    (stepDoubleIntegral(step, toS - firstS) -
      stepDoubleIntegral(step, toS - lastS) -
      stepDoubleIntegral(step, fromS - firstS) +
      stepDoubleIntegral(step, fromS - lastS)) /
    spread
  );
}

/** s averaged over lines that are drawn evenly between the delays `firstS` and `lastS`, at one moment. */
export function scannedStep(step: StepResponse, tS: number, firstS: number, lastS: number): number {
  const spread = lastS - firstS;
  if (spread < SAME_DELAY_S) return stepAt(step, tS - 0.5 * (firstS + lastS));
  return (stepIntegral(step, tS - firstS) - stepIntegral(step, tS - lastS)) / spread;
}
