/** What makes every press of a clip doubtful, and how much of its presses is. */
import type { OnsetSet } from '../onset/onset.js';
import { FLICKERING } from '../onset/ripple.js';
import type { Pairing } from './pairPresses.js';

/** Share (0..1) of the clip in which the LED is lit; null where it never switches. */
export function ledLitShare(led: OnsetSet, durationS: number): number | null {
  const first = led.onsets[0];
  if (!first || durationS <= 0) return null;
  let lit = first.sign < 0;
  let sinceS = 0;
  let litS = 0;
  for (const { levelS, sign } of led.onsets) {
    if (lit) litS += levelS - sinceS;
    lit = sign > 0;
    sinceS = levelS;
  }
  if (lit) litS += durationS - sinceS;
  return Math.min(1, Math.max(0, litS / durationS));
}

// A button is down for less than half of the time; a light that contradicts this by so much means the other edge.
const MOSTLY = 0.58;

/**
 * Whether the LED rests in the state that the asked edge leads to: lit most of the time while a press is said to light
 * it, or dark most of the time while a press is said to put it out.
 */
export function isOtherEdge(led: OnsetSet, durationS: number, edgeSign: 1 | -1): boolean {
  const lit = ledLitShare(led, durationS);
  if (lit === null) return false;
  return edgeSign > 0 ? lit > MOSTLY : lit < 1 - MOSTLY;
}

// Fewer presses than this say nothing about the others.
const LEAST_PRESSES = 4;

/** Whether less than half of a clip's presses have an answer: what the others have may as well be something else. */
export function isMostlyUnanswered(presses: number, measured: number): boolean {
  return presses >= LEAST_PRESSES && measured > 0 && measured < 0.5 * presses;
}

/** The pairing with flags that hold for each of its presses. */
export function withClipDoubts(pairing: Pairing, flags: readonly string[]): Pairing {
  if (flags.length === 0) return pairing;
  return {
    ...pairing,
    presses: pairing.presses.map((press) => ({ ...press, flags: [...press.flags, ...flags] })),
  };
}

/** Flag of a latency that is not known to a camera frame. */
const WIDE = 'wide-interval';

/** The pairing with a flag on each response whose latency is not known to a camera frame. */
export function flagWide(pairing: Pairing, isWide: (press: number, region: string) => boolean): Pairing {
  return {
    ...pairing,
    presses: pairing.presses.map((press, i) => ({
      ...press,
      responses: press.responses.map((r) =>
        r.status === 'measured' && isWide(i, r.region) ? { ...r, flags: [...r.flags, WIDE] } : r,
      ),
    })),
  };
}

/** Share (0..1) of the measured responses that carry a flag of their own or of their press. */
export function flaggedShare(pairing: Pairing): number {
  let flagged = 0;
  let measured = 0;
  for (const press of pairing.presses) {
    if (press.status !== 'measured') continue;
    for (const response of press.responses) {
      if (response.status !== 'measured') continue;
      measured++;
      if (press.flags.length > 0 || response.flags.length > 0) flagged++;
    }
  }
  return measured > 0 ? flagged / measured : 0;
}

/** Measured presses that a region answered. */
export function answeredCount(pairing: Pairing, screen: OnsetSet): number {
  const { name } = screen.region;
  return pairing.presses.filter(
    (p) => p.status === 'measured' && p.responses.some((r) => r.region === name && r.status === 'measured'),
  ).length;
}

/** Share (0..1) of a region's responses whose light ripples. */
export function flickeringShare(pairing: Pairing, screen: OnsetSet): number {
  const responses = pairing.presses
    .flatMap((p) => p.responses)
    .filter((r) => r.region === screen.region.name && r.onset);
  const flickering = responses.filter((r) => r.flags.includes(FLICKERING)).length;
  return flickering / Math.max(1, responses.length);
}

/** Median contrast of a region's responses, step over noise; 0 without any. */
export function medianContrast(pairing: Pairing, screen: OnsetSet): number {
  const contrasts = pairing.presses
    .flatMap((p) => p.responses)
    .filter((r) => r.region === screen.region.name && r.onset)
    .map((r) => r.onset!.contrast)
    .sort((a, b) => a - b);
  return contrasts[contrasts.length >> 1] ?? 0;
}
