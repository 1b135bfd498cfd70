/** Weak evidence: what makes one response less believable than the others of its region. */
import { ONLY_ONE, type Onset } from '../onset/onset.js';

/** The parts of a response that are judged here. */
export interface JudgedResponse {
  readonly status: string;
  readonly onset: Onset | null;
  readonly flags: readonly string[];
}

/** Responses below this share of the region's usual contrast are weak. */
const WEAK_SHARE = 0.4;
const LEAST_USUAL = 5;
/** Beyond what most latencies span, s: a wait of one refresh of a slow display. */
const UNUSUAL_MARGIN_S = 0.02;

/**
 * The responses of one region with a flag where they stand apart: `unusual-latency` (far from most of the clip's),
 * `weak-response` (much less change than usual), `odd-response` (the only change of its kind). Fewer than five
 * measured responses have no usual one.
 * @param pressS time of each press, s.
 */
export function flagDoubts<R extends JudgedResponse>(
  responses: readonly R[],
  pressS: readonly number[],
): R[] {
  const measured = responses.flatMap((r, i) =>
    r.onset && r.status === 'measured' ? [{ onset: r.onset, lagS: r.onset.levelS - pressS[i]! }] : [],
  );
  if (measured.length < LEAST_USUAL) return [...responses];
  const lags = measured.map((m) => m.lagS).sort((a, b) => a - b);
  const at = (share: number) => lags[Math.round(share * (lags.length - 1))]!;
  const reachS = UNUSUAL_MARGIN_S + (at(0.8) - at(0.2));
  const contrasts = measured.map((m) => m.onset.contrast).sort((a, b) => a - b);
  const usualContrast = contrasts[contrasts.length >> 1]!;
  const members = new Map<number, number>();
  for (const { onset } of measured) members.set(onset.kind, (members.get(onset.kind) ?? 0) + 1);
  return responses.map((response, i) => {
    const { onset } = response;
    if (!onset || response.status !== 'measured') return response;
    const lagS = onset.levelS - pressS[i]!;
    const flags = [...response.flags];
    if (lagS < at(0.2) - reachS || lagS > at(0.8) + reachS) flags.push('unusual-latency');
    if (onset.contrast < WEAK_SHARE * usualContrast) flags.push('weak-response');
    if (members.get(onset.kind) === 1 && !flags.includes(ONLY_ONE)) flags.push(ONLY_ONE);
    return { ...response, flags };
  });
}
