/** The form of an LED's edges: does it light at once, or slowly? */
import { type EdgeShape, levelTime } from './edgeShape.js';
import type { EdgeWindow } from './edgeWindow.js';
import { bestEvidences, type ExposureEstimate, estimateExposure, exposureEvidence } from './exposure.js';

// Forms of an LED that are tried, capture periods: instant, slow drivers and phosphors, linear ramps.
const LED_SHAPES: readonly EdgeShape[] = [
  { tauT: 0, sweepT: 0 },
  ...[0.2, 0.5, 1.2, 2.4].map((tauT) => ({ tauT, sweepT: 0 })),
  ...[0.25, 0.6, 1.2, 2.5].map((sweepT) => ({ tauT: 0, sweepT })),
];
// An LED is instant unless the frames say otherwise beyond doubt (log evidence): errors of coding are alike from frame to
// frame, which the fit does not know.
const LEAST_SLOWNESS = 12;
// An LED that is slower by this log evidence and less than the above may be slow: its frames leave it open. Instant LEDs in
// simulated clips reach 3.3.
const DOUBTFUL_SLOWNESS = 5;
// Less than this does not matter, capture periods.
const LEAST_LATER_T = 0.4;
// Factors by which a slow form is sharpened, and the slowest to think of, capture periods: 10 ms at 960 frames a second.
const FINER = [1.5, 1.2, 1.08, 1.03];
const SLOWEST_T = 10;
// An edge of which so much less can be explained (log evidence, for its number of frames) than of the usual one is spoilt.
// Edges of 66 simulated LEDs are within 28 of the usual one, two with a step of the exposure beside them 106 and 620 off.
const SPOILT_LOG = 100;
const LEAST_EDGES = 4;
// An LED that takes longer than this (10 to 90 %, capture periods) is slow; it may be so much faster or slower.
const SLOW_T = 0.5;
const SPEEDS = [0.7, 0.8, 0.9, 1, 1.1, 1.2, 1.35] as const;
const FEW_EXPOSURES = [0.14, 0.5, 0.9];
const COARSE_EXPOSURES = [0.06, 0.14, 0.24, 0.36, 0.5, 0.64, 0.78, 0.9, 1];

/** What all edges of an LED share. */
export interface LedForm {
  readonly shape: EdgeShape;
  /**
   * How much later than it began an edge seems to be, capture periods, if the LED is slower than taken, which the frames
   * leave open; 0 where they do not.
   */
  readonly laterT: number;
  readonly exposure: ExposureEstimate | null;
}

/**
 * The LED's own rise and the camera's exposure, together: a slow LED and a long exposure blur alike, and only their
 * joint evidence keeps them apart.
 */
export function ledForm(all: readonly EdgeWindow[], stated: number | null, misfit: number): LedForm {
  const windows = withoutSpoilt(all, misfit);
  const sample = windows.slice(0, 24);
  const evidence = (shape: EdgeShape) =>
    exposureEvidence(sample, shape, misfit, stated === null ? COARSE_EXPOSURES : [stated]);
  let best: EdgeShape = LED_SHAPES[0]!;
  let bestLog = Number.NEGATIVE_INFINITY;
  let rival: { shape: EdgeShape; log: number } | null = null;
  for (const shape of LED_SHAPES) {
    const log = evidence(shape);
    if (log > bestLog + (shape === LED_SHAPES[0] ? 0 : LEAST_SLOWNESS)) {
      bestLog = log;
      best = shape;
    }
    if (!rival || log > rival.log) rival = { shape, log };
  }
  if (best !== LED_SHAPES[0]) {
    // Ramps and exponentials that are tried at a few speeds only: which of the two it is, their best speeds tell.
    for (const start of [
      best,
      best.sweepT > 0 ? { tauT: best.sweepT / 2, sweepT: 0 } : { tauT: 0, sweepT: 2 * best.tauT },
    ]) {
      const [shape, log] = sharpen(start, evidence(start), evidence);
      if (log > bestLog) [best, bestLog] = [shape, log];
    }
  }
  const mayBeSlower = rival !== null && rival.log > bestLog + DOUBTFUL_SLOWNESS;
  const laterT = mayBeSlower ? levelTime(0.5, rival!.shape) - levelTime(0.5, best) : 0;
  return {
    shape: best,
    laterT: laterT > LEAST_LATER_T ? laterT : 0,
    exposure: estimateExposure(windows, mayBeSlower ? [best, ...likes(rival!.shape)] : likes(best), misfit),
  };
}

/** A slow LED and a long exposure blur alike: were it a little faster or slower, another exposure would explain it as well. */
function likes(shape: EdgeShape): EdgeShape[] {
  const isSlow = levelTime(0.9, shape) - levelTime(0.1, shape) > SLOW_T;
  return (isSlow ? SPEEDS : [1]).map((f) => ({ tauT: shape.tauT * f, sweepT: shape.sweepT * f }));
}

/**
 * The edges without those that no form explains nearly as well as it does the others, such as one beside which the camera
 * changed its exposure: a single one of them would settle form and exposure by thousands.
 */
function withoutSpoilt(windows: readonly EdgeWindow[], misfit: number): readonly EdgeWindow[] {
  if (windows.length < LEAST_EDGES) return windows;
  const tried = LED_SHAPES.map((shape) => bestEvidences(windows, shape, misfit, FEW_EXPOSURES));
  const perFrame = windows.map((window, i) => {
    const frames = window.channels.reduce((sum, { values }) => sum + values.length, 0);
    return { frames, log: Math.max(...tried.map((logs) => logs[i]!)) / frames };
  });
  const logs = perFrame.map(({ log }) => log).sort((a, b) => a - b);
  const usual = logs[logs.length >> 1]!;
  return windows.filter((_, i) => (usual - perFrame[i]!.log) * perFrame[i]!.frames < SPOILT_LOG);
}

/** A slow form made faster or slower as long as the frames like it better; slower than all forms to begin with, if need be. */
function sharpen(
  start: EdgeShape,
  startLog: number,
  evidence: (shape: EdgeShape) => number,
): readonly [EdgeShape, number] {
  let [best, bestLog] = [start, startLog];
  for (const factor of FINER) {
    for (const times of [factor, 1 / factor]) {
      for (;;) {
        const shape = { tauT: best.tauT * times, sweepT: best.sweepT * times };
        if (shape.tauT + shape.sweepT > SLOWEST_T) break;
        const log = evidence(shape);
        if (log <= bestLog) break;
        [best, bestLog] = [shape, log];
      }
    }
  }
  return [best, bestLog];
}
