/** Proof for the eye: cuts the pictures, the trace and the fitted curve around each press out of the samples. */
import { blurEdge } from './onset/edgeShape.js';
import type { Onset, OnsetSet } from './onset/onset.js';
import type { Pairing } from './press/pairPresses.js';
import type { Evidence, EvidenceFrame, EvidenceStrip } from './record/evidence.js';
import { type ClipSamples, LIGHT_SCALE, type RegionSamples } from './samples/samples.js';
import { encodeLight } from './units.js';

/** When frames were taken. */
export interface ProofClock {
  /** Timestamp of each frame on the capture clock, s. */
  readonly capturedAtS: Float64Array;
  readonly periodS: number;
  readonly exposureFraction: number;
  /** Start of exposure of a region's rows after the frame's timestamp, s, by region name. */
  readonly rowDelayS: ReadonlyMap<string, number>;
}

// Frames shown before and after an onset; what lies between two onsets is shown only where it is short.
const BEFORE = 4;
const AFTER = 6;
const SHOW_ALL_UP_TO = 30;
// A change may settle slowly; its end should be in the picture, within reason.
const AFTER_SLOW = 14;

/** Strips of every press: the LED first, then each screen region. */
export function makeProof(
  samples: ClipSamples,
  led: OnsetSet,
  screens: readonly OnsetSet[],
  pairing: Pairing,
  clock: ProofClock,
): Evidence {
  const levels = greyTable();
  const presses = new Map<number, EvidenceStrip[]>();
  for (const press of pairing.presses) {
    const answers = press.responses.flatMap((r) => (r.onset ? [r.onset.frame] : []));
    const frames = framesToShow(press.led.frame, answers, samples.frames, clock.periodS);
    const strips = [strip(samples, led, press.led, frames, clock, levels)];
    for (const screen of screens) {
      const response = press.responses.find((r) => r.region === screen.region.name);
      strips.push(strip(samples, screen, response?.onset ?? null, frames, clock, levels));
    }
    presses.set(press.index, strips);
  }
  return { overviewJpeg: null, presses };
}

function framesToShow(
  ledFrame: number,
  answers: readonly number[],
  total: number,
  periodS: number,
): number[] {
  const after = Math.min(AFTER_SLOW, Math.max(AFTER, Math.round(0.012 / periodS)));
  const spans: [number, number][] = [[ledFrame - BEFORE, ledFrame + AFTER]];
  for (const frame of answers) spans.push([frame - BEFORE - 2, frame + after]);
  const first = Math.max(0, Math.min(...spans.map(([from]) => from)));
  const last = Math.min(total - 1, Math.max(...spans.map(([, to]) => to)));
  const frames: number[] = [];
  for (let k = first; k <= last; k++) {
    if (last - first < SHOW_ALL_UP_TO || spans.some(([from, to]) => k >= from && k <= to)) frames.push(k);
  }
  return frames;
}

function strip(
  samples: ClipSamples,
  set: OnsetSet,
  onset: Onset | null,
  frames: readonly number[],
  clock: ProofClock,
  levels: Uint8Array,
): EvidenceStrip {
  const source = samples.regions.find((r) => r.region.name === set.region.name)!;
  const signal = set.signals[onset?.kind ?? 0];
  const share = (k: number): number => {
    if (!signal) return 0;
    if (!onset) return clampShare(signal[k]!);
    return clampShare((signal[k]! - onset.before) / (onset.after - onset.before));
  };
  // From a frame's timestamp to the middle of this region's own exposure.
  const rowS = clock.rowDelayS.get(set.region.name) ?? 0;
  const half = rowS + (clock.exposureFraction / 2) * clock.periodS;
  return {
    region: set.region.name,
    columns: source.columns,
    rows: source.rows,
    frames: frames.map(
      (k): EvidenceFrame => ({
        capturedAtS: clock.capturedAtS[k]! + half,
        grey: greyOf(source, k, levels),
        share: share(k),
      }),
    ),
    fitted: onset ? fittedCurve(set, onset, frames, clock, rowS) : { timesS: [], shares: [] },
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

/** Stored light to a grey level for display, through the BT.709 curve; one entry a stored value. */
function greyTable(): Uint8Array {
  return Uint8Array.from({ length: 65_536 }, (_, stored) =>
    Math.round(255 * Math.min(1, encodeLight(stored / LIGHT_SCALE, 'bt709'))),
  );
}

function greyOf(source: RegionSamples, k: number, levels: Uint8Array): Uint8Array {
  const cells = source.columns * source.rows;
  const grey = new Uint8Array(cells);
  for (let c = 0; c < cells; c++) grey[c] = levels[source.light[k * cells + c]!]!;
  return grey;
}
