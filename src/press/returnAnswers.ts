/** Answers that are the picture's return, as the change before it was not seen: they come later than the others by as long as it is held. */
import type { OnsetSet } from '../onset/onset.js';
import type { Pairing } from './pairPresses.js';

/** Answers of each direction; fewer say nothing about the others. */
const LEAST_ANSWERS = 3;
/** Rise and fall of one display are never this far apart to any level (a slow panel takes 0.02 s), s. */
const APART_S = 0.03;
const FLAG = 'perhaps-the-return';

/**
 * The pairing with a flag on the answers of that direction, to more or to less light, whose answers all come later than
 * those of the other one by more than a response takes.
 */
export function flagReturns(pairing: Pairing, screens: readonly OnsetSet[]): Pairing {
  const late = new Map(screens.map(({ region }) => [region.name, laterSign(pairing, region.name)]));
  if ([...late.values()].every((sign) => sign === null)) return pairing;
  const presses = pairing.presses.map((press) => ({
    ...press,
    responses: press.responses.map((r) =>
      r.status === 'measured' && r.onset?.sign === late.get(r.region)
        ? { ...r, flags: [...r.flags, FLAG] }
        : r,
    ),
  }));
  return { ...pairing, presses };
}

function laterSign({ presses }: Pairing, region: string): 1 | -1 | null {
  const lagsS = (sign: 1 | -1) =>
    presses.flatMap(({ status, led, responses }) => {
      const onset = responses.find((r) => r.region === region && r.status === 'measured')?.onset;
      return status === 'measured' && onset?.sign === sign ? [onset.levelS - led.levelS] : [];
    });
  const [rises, falls] = [lagsS(1), lagsS(-1)];
  if (Math.min(rises.length, falls.length) < LEAST_ANSWERS) return null;
  if (Math.min(...falls) > Math.max(...rises) + APART_S) return -1;
  return Math.min(...rises) > Math.max(...falls) + APART_S ? 1 : null;
}
