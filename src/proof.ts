/** Proof for the eye: the pictures, the trace and the fitted curve around each press. */
import type { RegionFindings } from './clipFindings.js';
import { blurEdge } from './onset/edgeShape.js';
import type { Onset, OnsetSet } from './onset/onset.js';
import type { Pairing } from './press/pairPresses.js';
import { framesToShow, pictureAt } from './pressPictures.js';
import type { Evidence, EvidenceFrame, EvidenceStrip } from './record/evidence.js';

/** When frames were taken. */
export interface ProofClock {
  /** Timestamp of each frame on the capture clock, s. */
  readonly capturedAtS: Float64Array;
  readonly periodS: number;
  readonly exposureFraction: number;
}

/** Strips of every press: the LED first, then each screen region. */
export function makeProof(
  lights: readonly [led: RegionFindings, ...screens: RegionFindings[]],
  [led, ...screens]: readonly [led: OnsetSet, ...screens: OnsetSet[]],
  pairing: Pairing,
  clock: ProofClock,
): Evidence {
  const presses = new Map<number, EvidenceStrip[]>();
  const total = clock.capturedAtS.length;
  for (const press of pairing.presses) {
    const answers = press.responses.flatMap((r) => (r.onset ? [r.onset.frame] : []));
    const frames = framesToShow(press.led.frame, answers, total, clock.periodS);
    const strips = [strip(lights[0], led, press.led, frames, clock)];
    screens.forEach((screen, i) => {
      const response = press.responses.find((r) => r.region === screen.region.name);
      strips.push(strip(lights[i + 1]!, screen, response?.onset ?? null, frames, clock));
    });
    presses.set(press.index, strips);
  }
  return { overviewJpeg: null, presses };
}

function strip(
  { pictures, rowDelayS }: RegionFindings,
  set: OnsetSet,
  onset: Onset | null,
  frames: readonly number[],
  clock: ProofClock,
): EvidenceStrip {
  const signal = set.signals[onset?.kind ?? 0];
  const share = (k: number): number => {
    if (!signal) return 0;
    if (!onset) return clampShare(signal[k]!);
    return clampShare((signal[k]! - onset.before) / (onset.after - onset.before));
  };
  // From a frame's timestamp to the middle of this region's own exposure.
  const half = rowDelayS + (clock.exposureFraction / 2) * clock.periodS;
  return {
    region: set.region.name,
    columns: pictures.columns,
    rows: pictures.rows,
    frames: frames.map(
      (k): EvidenceFrame => ({
        capturedAtS: clock.capturedAtS[k]! + half,
        grey: pictureAt(pictures, k),
        share: share(k),
      }),
    ),
    fitted: onset ? fittedCurve(set, onset, frames, clock, rowDelayS) : { timesS: [], shares: [] },
    onsetS: onset?.levelS ?? null,
    onsetIntervalS: onset?.intervalS ?? null,
  };
}

function clampShare(value: number): number {
  return Number.isFinite(value) ? Math.max(-1, Math.min(2, value)) : 0;
}

function fittedCurve(
  set: OnsetSet,
  onset: Onset,
  frames: readonly number[],
  clock: ProofClock,
  rowS: number,
): EvidenceStrip['fitted'] {
  const shape = onset.sign > 0 ? set.shapes.rise : set.shapes.fall;
  const edge = blurEdge(shape, clock.exposureFraction);
  const timesS: number[] = [];
  const shares: number[] = [];
  const first = clock.capturedAtS[frames[0]!]!;
  const last = clock.capturedAtS[frames[frames.length - 1]!]!;
  for (let openS = first; openS <= last + 1e-9; openS += clock.periodS / 4) {
    timesS.push(openS + rowS + (clock.exposureFraction / 2) * clock.periodS);
    shares.push(edge.at((openS + rowS - onset.firstLightS) / clock.periodS));
  }
  return { timesS, shares };
}
