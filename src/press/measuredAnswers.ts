/** The answers of one region that count, as those who judge them together take them. */
import type { Onset } from '../onset/onset.js';
import type { Pairing, Press, Response } from './pairPresses.js';

/** One answer of a region to a measured press. */
export interface MeasuredAnswer {
  readonly press: Press;
  readonly response: Response;
  readonly onset: Onset;
  /** From the press to the answer, s. */
  readonly lagS: number;
}

/** A region's measured answers to measured presses, in the order of the presses. */
export function measuredAnswers({ presses }: Pairing, region: string): MeasuredAnswer[] {
  return presses.flatMap((press) => {
    const { status, led, responses } = press;
    const response = responses.find((r) => r.region === region && r.status === 'measured');
    if (status !== 'measured' || !response?.onset) return [];
    const { onset } = response;
    return [{ press, response, onset, lagS: onset.levelS - led.levelS }];
  });
}
