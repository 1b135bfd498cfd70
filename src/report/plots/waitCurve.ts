/** The wait model as curves for drawing: how latencies spread when only the wait (and some jitter) makes them vary. */

/** The wait model's figures, ms. */
export interface WaitShape {
  readonly fixedDelayMs: number;
  /** 0 where there is no wait. */
  readonly periodMs: number;
  /** Standard deviation of all that blurs the wait: jitter and measurement, ms; 0 allowed. */
  readonly spreadMs: number;
}

/** Normal cumulative distribution; Abramowitz and Stegun 7.1.26, absolute error below 1.5e-7: enough for a line. */
function normalCumulative(z: number): number {
  const x = Math.abs(z) / Math.SQRT2;
  const t = 1 / (1 + 0.3275911 * x);
  const poly =
    t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))));
  const tail = (poly * Math.exp(-x * x)) / 2;
  return z >= 0 ? 1 - tail : tail;
}

const normalDensity = (z: number): number => Math.exp((-z * z) / 2) / Math.sqrt(2 * Math.PI);

/** Integral of the normal cumulative from minus infinity to z. */
const normalRamp = (z: number): number => z * normalCumulative(z) + normalDensity(z);

const MIN_SPREAD_MS = 1e-3;

/** Share of presses (0..1) with a latency of at most `latencyMs` under the model (the integral of f in method 7). */
export function waitCumulative(latencyMs: number, shape: WaitShape): number {
  const s = Math.max(MIN_SPREAD_MS, shape.spreadMs);
  const z = (latencyMs - shape.fixedDelayMs) / s;
  if (!(shape.periodMs > 0)) return normalCumulative(z);
  const share = (s * (normalRamp(z) - normalRamp(z - shape.periodMs / s))) / shape.periodMs;
  return Math.min(1, Math.max(0, share));
}

/** Density at `latencyMs`, 1/ms (method 7). */
export function waitDensity(latencyMs: number, shape: WaitShape): number {
  const s = Math.max(MIN_SPREAD_MS, shape.spreadMs);
  const z = (latencyMs - shape.fixedDelayMs) / s;
  if (!(shape.periodMs > 0)) return normalDensity(z) / s;
  return (normalCumulative(z) - normalCumulative(z - shape.periodMs / s)) / shape.periodMs;
}
