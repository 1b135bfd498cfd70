/** What a press and a response mean together: the latency after corrections, with its uncertainty by component. */
import type { Press } from '../press/pairPresses.js';
import { coverageFactor95, flatShare } from '../stats/coverageFactor.js';

/** One part of a latency's uncertainty, standard (k = 1), ms. */
export interface UncertaintyComponent {
  readonly name: string;
  readonly standardUncertaintyMs: number;
  readonly type: 'A' | 'B';
  /** Common to all presses of the clip: does not shrink with their number. */
  readonly common: boolean;
}

/** What is known of camera, cue and region for the budget. */
export interface LatencyConditions {
  readonly periodMs: number;
  /** Relative standard uncertainty of the capture rate. */
  readonly rateUncertaintyRel: number;
  /** Standard uncertainty of one timestamp, ms. */
  readonly timestampMs: number;
  /** Standard uncertainty of the exposure fraction. */
  readonly exposureSd: number;
  /** Standard uncertainty of the readout fraction (0 when stated). */
  readonly readoutSd: number;
  /** Difference of readout position, region less LED, 0..1 of the picture. */
  readonly readoutDistance: number;
  /** How long after the contact the LED lights, ms: the press came that much earlier, so that it adds to the latency. */
  readonly cueDelayMs: number;
  readonly cueDelayUncertaintyMs: number;
  /** Standard uncertainty of the response's form, ms. */
  readonly shapeMs: number;
  /** Share of a camera frame by which an unknown tone curve can move a partly lit edge (standard). */
  readonly toneCurveT: number;
  /** True where only the LED's edge suffers from it: then only where a frame shows it partly lit. */
  readonly toneOfLedAlone: boolean;
  /** What a unit of exposure fraction moves a latency by (standard), camera frames. */
  readonly perExposure: number;
  /** Share of a camera frame by which light that the camera clips can move an edge (standard); 0 where none clips. */
  readonly clippedT: number;
}

/** A latency with its budget. */
export interface Latency {
  readonly pressIndex: number;
  readonly region: string;
  readonly latencyMs: number;
  readonly uncertaintyMs: number;
  readonly intervalMs: readonly [number, number];
  readonly budget: readonly UncertaintyComponent[];
}

/**
 * The latency of one press in one region, or null where there is no measured response.
 * Components add in quadrature (JCGM 100:2008, 5.1.2); the coverage factor follows the shape of the sum, because an
 * onset behind a closed shutter is uniform, not normal.
 */
export function latencyOf(press: Press, region: string, conditions: LatencyConditions): Latency | null {
  const response = press.responses.find((r) => r.region === region);
  if (!response?.onset || response.status !== 'measured') return null;
  const { led } = press;
  const { onset } = response;
  const latencyMs = (onset.levelS - led.levelS) * 1000 + conditions.cueDelayMs;
  const { periodMs } = conditions;
  // An edge that lies anywhere in a closed time is in no partly lit frame.
  const seen = conditions.toneOfLedAlone ? 1 - flatShare(led.excessKurtosis) : 1;
  const missing = [...led.flags, ...onset.flags].filter((f) => f === 'dropped-frame-nearby').length;
  const parts: [string, number, 'A' | 'B', boolean, number][] = [
    ['LED onset', led.sdS * 1000, 'A', false, led.excessKurtosis],
    ['screen onset', onset.sdS * 1000, 'A', false, onset.excessKurtosis],
    ['response form', conditions.shapeMs, 'A', true, 0],
    ['exposure fraction', conditions.perExposure * conditions.exposureSd * periodMs, 'A', false, 0],
    ['tone curve', seen * conditions.toneCurveT * periodMs, 'B', false, 0],
    ['clipped light', conditions.clippedT * conditions.periodMs, 'B', true, 0],
    ['timestamps', conditions.timestampMs * Math.SQRT2, 'B', false, 0],
    ['dropped frames', missing * periodMs * 0.2887, 'B', false, -1.2],
    [
      'row readout',
      Math.abs(conditions.readoutDistance) * conditions.readoutSd * conditions.periodMs,
      'B',
      true,
      -1.2,
    ],
    ['capture rate', Math.abs(latencyMs) * conditions.rateUncertaintyRel, 'B', true, 0],
    ['LED delay', conditions.cueDelayUncertaintyMs, 'B', true, 0],
  ];
  const used = parts.filter(([, u]) => u > 0);
  const variance = used.reduce((sum, [, u]) => sum + u * u, 0);
  const uncertaintyMs = Math.sqrt(variance);
  const shaped = used.map(([, u, , , k]) => ({ standardUncertainty: u, excessKurtosis: k }));
  const half = coverageFactor95(shaped) * uncertaintyMs;
  return {
    pressIndex: press.index,
    region,
    latencyMs,
    uncertaintyMs,
    intervalMs: [latencyMs - half, latencyMs + half],
    budget: used.map(([name, standardUncertaintyMs, type, common]) => ({
      name,
      standardUncertaintyMs,
      type,
      common,
    })),
  };
}
