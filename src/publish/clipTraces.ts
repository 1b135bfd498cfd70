/** Traces of an annotated clip: how far each region's change had come in each frame, from samples, by the record. */
import type { CaptureClock } from '../clip/captureClock.js';
import { UNKNOWN_EXPOSURE, UNKNOWN_READOUT } from '../clip/unknownCamera.js';
import type { ClipRecord, PressRecord } from '../record/record.js';
import type { ClipSamples } from '../samples/samples.js';
import { lampGain, makeTrace, type Trace } from '../trace/trace.js';

/** A region's trace and its clock. */
export interface ClipTrace {
  readonly trace: Trace;
  /** From a frame's timestamp to the middle of its exposure at the region's rows, s. */
  readonly middleS: number;
}

/** The trace of a region on the very clock that the record's onsets were measured on, assumptions included. */
export function clipTrace(
  samples: ClipSamples,
  region: string,
  clock: CaptureClock,
  record: ClipRecord,
): ClipTrace {
  const { readoutFraction, exposureFraction } = record.timing;
  const reference = record.recipe.regions.find((r) => r.role === 'reference');
  const gain = reference ? lampGain(samples, reference.name) : undefined;
  const trace = makeTrace(samples, region, clock, readoutFraction ?? UNKNOWN_READOUT.fraction, { gain });
  const rowS = trace.openS[0]! - clock.capturedAtS[0]!;
  return { trace, middleS: rowS + ((exposureFraction ?? UNKNOWN_EXPOSURE.fraction) / 2) * clock.periodS };
}

/** Frames that stand for "before" and "after" a change, at most. */
const PLATEAU_FRAMES = 8;

/**
 * Share of the change in each frame: the light projected on the difference between the plateaus before and after it
 * (for drawing; onsets are the record's). 0 everywhere where nothing changes.
 * @param changeS when the change begins and when it has settled, s on the capture clock; null where there is none.
 */
export function sharesOf(
  { trace, middleS }: ClipTrace,
  capturedAtS: Float64Array,
  frames: readonly number[],
  changeS: readonly [begins: number, settled: number] | null,
): number[] {
  if (changeS === null) return frames.map(() => 0);
  const middle = (k: number) => capturedAtS[k]! + middleS;
  let begins = 0;
  while (begins < trace.frames && middle(begins) < changeS[0] - trace.periodS / 2) begins++;
  let settled = begins;
  while (settled < trace.frames - 1 && middle(settled) < changeS[1] + trace.periodS / 2) settled++;
  const before = meanLight(trace, Math.max(0, begins - PLATEAU_FRAMES), Math.max(1, begins));
  const after = meanLight(trace, settled, Math.min(trace.frames, settled + PLATEAU_FRAMES));
  const step = after.map((v, c) => v - before[c]!);
  const power = step.reduce((sum, v) => sum + v * v, 0);
  if (!(power > 0)) return frames.map(() => 0);
  return frames.map((k) => {
    let sum = 0;
    for (let c = 0; c < trace.cells; c++) sum += step[c]! * (trace.light[k * trace.cells + c]! - before[c]!);
    return sum / power;
  });
}

function meanLight(trace: Trace, from: number, to: number): Float64Array {
  const mean = new Float64Array(trace.cells);
  for (let k = from; k < to; k++) {
    for (let c = 0; c < trace.cells; c++) mean[c]! += trace.light[k * trace.cells + c]! / (to - from);
  }
  return mean;
}

/** When the LED changes for a press, s: the cue's edge is over within a few camera frames. */
export function ledChangeS(press: PressRecord, periodS: number): readonly [number, number] {
  return [press.ledOnsetS, press.ledOnsetS + 2 * periodS];
}
