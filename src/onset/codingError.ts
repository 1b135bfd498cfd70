/** How far lossy coding bends a signal of two levels, read from how well its levels repeat. */

/**
 * Error of whole frames beside an edge over the scatter of the levels: 14 simulated scenes coded at CRF 16, 22 and 28
 * gave 3, 2 and 2.
 */
export const PLATEAU_CODING = 2;
/** Error of a partly lit frame over that (a faint one is coded away): 1.2, 1.9 and 1.7 in the same scenes. */
export const PARTLY_LIT_CODING = 2;

/** An edge: the first frame nearer to the new level. */
interface Edge {
  readonly frame: number;
  readonly sign: 1 | -1;
}

/** Frames of a plateau, beside an edge, that make up its level: after a change a coder comes nearer step by step. */
const LEVEL_FRAMES = 6;
/** With fewer pairs of like levels nothing is said. */
const LEAST_PAIRS = 3;
/** A scatter above this, as a share of the step, is the picture's own doing. */
const MOST_SCATTER = 0.05;
/** Normal distribution: sd over the median of its absolute values. */
const SD_OF_MEDIAN = 1 / 0.6745;

/**
 * Standard deviation of a plateau's level from one plateau to the next, as a share of the step, less what the noise of
 * single frames explains. An LED has the same two levels at each press; a coder that leaves out what it takes for
 * unimportant does not, and its error stays from frame to frame, so that no scatter within a plateau shows it. Slow drift
 * hardly counts, as only neighbours in time are compared.
 * @param crossings edges in time order.
 * @param step distance of the two levels, in units of the signal.
 * @param edgeFrames frames at an edge that may be partly lit.
 * @returns 0 where coding does not show, or where there are too few edges to tell.
 */
export function levelScatter(
  signal: Float64Array,
  crossings: readonly Edge[],
  step: number,
  edgeFrames: number,
): number {
  // The two ends of a plateau apart: between them a coder has had time to come nearer.
  const levels: Record<'lowBefore' | 'lowAfter' | 'highBefore' | 'highAfter', number[]> = {
    lowBefore: [],
    lowAfter: [],
    highBefore: [],
    highAfter: [],
  };
  crossings.forEach(({ frame, sign }, i) => {
    const previous = crossings[i - 1]?.frame ?? 0;
    const next = crossings[i + 1]?.frame ?? signal.length;
    const [before, after] =
      sign > 0 ? [levels.lowBefore, levels.highAfter] : [levels.highBefore, levels.lowAfter];
    addLevel(
      before,
      signal.subarray(Math.max(previous + edgeFrames, frame - edgeFrames - LEVEL_FRAMES), frame - edgeFrames),
    );
    addLevel(
      after,
      signal.subarray(frame + edgeFrames, Math.min(next - edgeFrames, frame + edgeFrames + LEVEL_FRAMES)),
    );
  });
  const white = whiteVariance(signal) / LEVEL_FRAMES;
  const variances = Object.values(levels).flatMap((values) => {
    const differences = values.slice(1).map((value, i) => Math.abs(value - values[i]!));
    if (differences.length < LEAST_PAIRS) return [];
    differences.sort((a, b) => a - b);
    const sd = (differences[differences.length >> 1]! * SD_OF_MEDIAN) / Math.SQRT2;
    return [Math.max(0, sd * sd - white)];
  });
  if (variances.length === 0 || !(step > 0)) return 0;
  const sd = Math.sqrt(variances.reduce((sum, v) => sum + v, 0) / variances.length);
  return Math.min(MOST_SCATTER, sd / step);
}

function addLevel(into: number[], plateau: Float64Array): void {
  if (plateau.length < 4) return;
  let sum = 0;
  for (const value of plateau) sum += value;
  into.push(sum / plateau.length);
}

/** Variance of one frame's own noise, from the differences of neighbours. */
function whiteVariance(signal: Float64Array): number {
  const differences = Float64Array.from({ length: Math.max(0, signal.length - 1) }, (_, k) =>
    Math.abs(signal[k + 1]! - signal[k]!),
  ).sort();
  return ((differences[differences.length >> 1] ?? 0) * SD_OF_MEDIAN) ** 2 / 2;
}
