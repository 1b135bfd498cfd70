/** The even grid behind a clip's timestamps: period, missing frames, and how far the timestamps lie from it. */

/** What the timestamps say by themselves; all in ticks of the clip's time base. */
export interface FrameGrid {
  /** Period of the frames, gaps taken out. */
  readonly periodTicks: number;
  /** Standard error of the period by the line's residuals, relative. */
  readonly periodErrorRel: number;
  /** Periods missing before each frame; entry 0 is 0. */
  readonly missingBefore: Uint16Array;
  /** Missing frames in all gaps that are no pauses. */
  readonly droppedFrames: number;
  /** Gaps that are no pauses. */
  readonly gaps: number;
  /** Frames before which the recording paused. */
  readonly pauses: readonly number[];
  /** Frames whose time is not after the one before. */
  readonly backward: number;
  /** Time of each frame on the fitted grid. */
  readonly fittedTicks: Float64Array;
  /** RMS and largest distance of the timestamps from the grid. */
  readonly rmsTicks: number;
  readonly maxTicks: number;
  /** Step of the values that the timestamps really take (1, or more where a coarser clock was converted). */
  readonly latticeTicks: number;
}

/** A gap this long is a pause of the recording, not lost frames (a quarter second at 240 Hz). */
const PAUSE_PERIODS = 60;
/** Gaps longer than this do not take part in the period: their length in periods is not sure enough. */
const FIT_PERIODS = 8;
/** Below this many ticks a period, rounding can turn one delta into another number of periods. */
const COARSE_TICKS = 10;
/** How fast the running phase follows the timestamps where ticks are coarse. */
const PHASE_GAIN = 0.25;

/**
 * Finds the grid. The median of the deltas would be wrong on coarse clocks (a 600 Hz timescale shows 240 Hz as 2
 * and 3 ticks, median 5 ms for 4.17 ms); the mean over single periods and then a line through the numbered frames
 * is not.
 * @param ticks presentation times, two or more, finite.
 * @param breaks frames before which the recording is known to be interrupted, whatever the length.
 * @returns null where no two times differ, or where they are so wild that no period comes out.
 */
export function fitFrameGrid(ticks: Float64Array, breaks: readonly number[] = []): FrameGrid | null {
  const deltas = new Float64Array(ticks.length - 1);
  for (let i = 0; i < deltas.length; i++) deltas[i] = ticks[i + 1]! - ticks[i]!;
  const forward = deltas.filter((delta) => delta > 0);
  if (forward.length === 0) return null;
  const median = forward.slice().sort()[forward.length >> 1]!;
  // As much is cut off below as above, or uneven times would pull the period down.
  const singles = forward.filter((delta) => Math.abs(delta - median) <= Math.max(0.5 * median, 1));
  const periodTicks = singles.reduce((sum, delta) => sum + delta, 0) / singles.length;
  // Rounded timestamps and uneven ones: a delta alone misleads (480 Hz on 600 Hz ticks: 1.25 as 1 or 2).
  const scattered = forward.filter(
    (delta) => Math.abs(delta / periodTicks - Math.round(delta / periodTicks)) > 0.2,
  );
  const byPhase = periodTicks < COARSE_TICKS || scattered.length > 0.1 * forward.length;
  let steps = numberSteps(ticks, deltas, periodTicks, byPhase);
  let line = lineThrough(ticks, steps);
  for (let round = 0; round < 2; round++) {
    const renumbered = numberSteps(ticks, deltas, line.periodTicks, byPhase);
    // The same numbers would give the same line.
    if (renumbered.every((step, i) => step === steps[i])) break;
    steps = renumbered;
    line = lineThrough(ticks, steps);
  }
  if (!(line.periodTicks > 0 && Number.isFinite(line.periodTicks))) return null;
  const broken = new Set(breaks);
  const missingBefore = new Uint16Array(ticks.length);
  const pauses: number[] = [];
  let droppedFrames = 0;
  let gaps = 0;
  steps.forEach((step, i) => {
    if (step <= 1 && !broken.has(i + 1)) return;
    missingBefore[i + 1] = Math.min(65_535, Math.max(1, step - 1));
    if (step > PAUSE_PERIODS || broken.has(i + 1)) pauses.push(i + 1);
    else {
      gaps++;
      droppedFrames += step - 1;
    }
  });
  return {
    periodTicks: line.periodTicks,
    periodErrorRel: line.periodErrorRel,
    missingBefore,
    droppedFrames,
    gaps,
    pauses,
    backward: deltas.length - forward.length,
    fittedTicks: line.fittedTicks,
    rmsTicks: line.rmsTicks,
    maxTicks: line.maxTicks,
    latticeTicks: latticeOf(forward, line.periodTicks),
  };
}

/** Periods between neighbouring frames, 1 or more. */
function numberSteps(
  ticks: Float64Array,
  deltas: Float64Array,
  periodTicks: number,
  byPhase: boolean,
): Float64Array {
  if (!byPhase) return deltas.map((delta) => Math.max(1, Math.round(delta / periodTicks)));
  // The distance from a running phase does not mislead as a delta does.
  let phase = ticks[0]!;
  return deltas.map((_, i) => {
    const distance = ticks[i + 1]! - phase;
    const step = Math.max(1, Math.round(distance / periodTicks));
    const miss = distance - step * periodTicks;
    phase += step * periodTicks + (step > FIT_PERIODS ? miss : PHASE_GAIN * miss);
    return step;
  });
}

/** Least squares line through (number, time), one slope, with an offset of its own after each long gap. */
function lineThrough(ticks: Float64Array, steps: Float64Array) {
  const n = ticks.length;
  const numbers = new Float64Array(n);
  const segmentOf = new Uint32Array(n);
  for (let i = 1; i < n; i++) {
    numbers[i] = numbers[i - 1]! + steps[i - 1]!;
    segmentOf[i] = segmentOf[i - 1]! + (steps[i - 1]! > FIT_PERIODS ? 1 : 0);
  }
  const segments = segmentOf[n - 1]! + 1;
  const count = new Float64Array(segments);
  const meanNumber = new Float64Array(segments);
  const meanTick = new Float64Array(segments);
  for (let i = 0; i < n; i++) {
    const s = segmentOf[i]!;
    const k = ++count[s]!;
    meanNumber[s]! += (numbers[i]! - meanNumber[s]!) / k;
    meanTick[s]! += (ticks[i]! - meanTick[s]!) / k;
  }
  let nn = 0;
  let nt = 0;
  for (let i = 0; i < n; i++) {
    const s = segmentOf[i]!;
    const dn = numbers[i]! - meanNumber[s]!;
    nn += dn * dn;
    nt += dn * (ticks[i]! - meanTick[s]!);
  }
  const periodTicks = nn > 0 ? nt / nn : (ticks[n - 1]! - ticks[0]!) / Math.max(1, numbers[n - 1]!);
  const fittedTicks = new Float64Array(n);
  let squares = 0;
  let maxTicks = 0;
  for (let i = 0; i < n; i++) {
    const s = segmentOf[i]!;
    fittedTicks[i] = meanTick[s]! + periodTicks * (numbers[i]! - meanNumber[s]!);
    const miss = ticks[i]! - fittedTicks[i]!;
    squares += miss * miss;
    maxTicks = Math.max(maxTicks, Math.abs(miss));
  }
  const rmsTicks = Math.sqrt(squares / n);
  return {
    periodTicks,
    periodErrorRel: nn > 0 ? rmsTicks / Math.sqrt(nn) / periodTicks : 1,
    fittedTicks,
    rmsTicks,
    maxTicks,
  };
}

/** Greatest common step of the deltas, where it is no whole part of the period (then it says nothing). */
function latticeOf(deltas: Float64Array, periodTicks: number): number {
  let step = 0;
  // Most deltas are alike.
  for (const delta of new Set(deltas)) {
    let a = step;
    let b = delta;
    while (b > 0) [a, b] = [b, a % b];
    step = a;
    if (step === 1) return 1;
  }
  const parts = periodTicks / step;
  return Math.abs(parts - Math.round(parts)) < 0.01 ? 1 : step;
}
