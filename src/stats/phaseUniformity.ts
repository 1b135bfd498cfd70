/** Whether presses fall at all phases of the refresh, as the wait model takes for granted. */
import { expected } from '../errors.js';
import { checkSample } from './sample.js';

/** Rayleigh test of phases. */
export interface PhaseUniformity {
  readonly n: number;
  /** Length of the mean phase vector, 0 (even) to 1 (all at one phase). */
  readonly resultantLength: number;
  /** Probability of at least this length from uniform phases. */
  readonly p: number;
  /** true where the presses are locked to the refresh (p below 0.01 and resultant above 0.3). */
  readonly locked: boolean;
  /** One sentence where `locked`. */
  readonly warning: string | null;
}

const SIGNIFICANT = 0.01;
/** A lock weaker than this moves the mean wait by less than a twentieth of a period: r / (2 pi). */
const HARMLESS_LENGTH = 0.3;

/**
 * Rayleigh test of press times against a period (p after Wilkie, Appl. Statist. 32 (1983) 311-312; Zar 2010 eq. 27.4).
 * The period must be the measured one: over a clip of a minute 1e-5 of error smears the phase by a tenth of a period.
 * @param pressTimesMs on the capture clock, at least 1
 * @param periodMs positive
 */
export function phaseUniformity(pressTimesMs: ArrayLike<number>, periodMs: number): PhaseUniformity {
  checkSample('pressTimesMs', pressTimesMs, 1);
  if (!(periodMs > 0)) throw expected('periodMs', 'a positive number', periodMs);
  const n = pressTimesMs.length;
  let c = 0;
  let s = 0;
  for (let i = 0; i < n; i += 1) {
    const angle = (2 * Math.PI * (pressTimesMs[i]! - pressTimesMs[0]!)) / periodMs;
    c += Math.cos(angle);
    s += Math.sin(angle);
  }
  const length = Math.hypot(c, s);
  const p =
    n < 2 ? 1 : Math.min(1, Math.exp(Math.sqrt(1 + 4 * n + 4 * (n * n - length * length)) - (1 + 2 * n)));
  const resultantLength = length / n;
  const locked = p < SIGNIFICANT && resultantLength > HARMLESS_LENGTH;
  return {
    n,
    resultantLength,
    p,
    locked,
    warning: locked
      ? `The presses fall at nearly the same phase of the refresh (resultant ${resultantLength.toFixed(2)}), so the wait is not averaged out: press less evenly.`
      : null,
  };
}
