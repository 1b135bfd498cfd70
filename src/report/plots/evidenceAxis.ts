/** The time axis of a press's evidence: windows around the onsets on one scale, with breaks where nothing is shown. */

/** A stretch of time that is shown, s on the capture clock, and where it stands, drawing units. */
export interface AxisWindow {
  readonly fromS: number;
  readonly toS: number;
  readonly fromX: number;
}

/** A time axis with breaks. */
export interface EvidenceAxis {
  readonly windows: readonly AxisWindow[];
  /** Drawing units of one camera frame. */
  readonly cell: number;
  readonly unitsPerS: number;
  readonly endX: number;
  /** Position of a time, drawing units; times in a break or outside are moved to the nearest shown edge. */
  readonly x: (timeS: number) => number;
  readonly shown: (timeS: number) => boolean;
}

const LEFT = 30;
const BREAK = 34;
/** Gaps shorter than this many camera frames are shown rather than broken out. */
const MIN_BREAK_FRAMES = 5;
const WANTED_WIDTH = 985;

/**
 * An axis over the frames of all strips of a press. `framesS`: mid-exposures of each strip's frames, s; `periodS`:
 * capture period, s. A camera frame is 18 to 34 drawing units wide.
 */
export function evidenceAxis(framesS: readonly (readonly number[])[], periodS: number): EvidenceAxis {
  const spans = framesS
    .filter((times) => times.length > 0)
    .map((times): [number, number] => [Math.min(...times) - periodS / 2, Math.max(...times) + periodS / 2])
    .sort((a, b) => a[0] - b[0]);
  const merged: [number, number][] = [];
  for (const [from, to] of spans) {
    const last = merged.at(-1);
    if (last !== undefined && from - last[1] < MIN_BREAK_FRAMES * periodS) last[1] = Math.max(last[1], to);
    else merged.push([from, to]);
  }
  const cells = merged.reduce((sum, [from, to]) => sum + (to - from) / periodS, 0);
  const cell = Math.min(34, Math.max(18, (WANTED_WIDTH - LEFT - BREAK * merged.length) / Math.max(1, cells)));
  const unitsPerS = cell / periodS;
  const windows: AxisWindow[] = [];
  let x = LEFT;
  for (const [fromS, toS] of merged) {
    windows.push({ fromS, toS, fromX: x });
    x += (toS - fromS) * unitsPerS + BREAK;
  }
  const endX = windows.length === 0 ? LEFT : x - BREAK;
  const shown = (timeS: number): boolean => windows.some((w) => timeS >= w.fromS && timeS <= w.toS);
  const position = (timeS: number): number => {
    let best = LEFT;
    let bestDistance = Number.POSITIVE_INFINITY;
    for (const w of windows) {
      const inside = Math.min(w.toS, Math.max(w.fromS, timeS));
      const distance = Math.abs(inside - timeS);
      if (distance < bestDistance) {
        bestDistance = distance;
        best = w.fromX + (inside - w.fromS) * unitsPerS;
      }
    }
    return best;
  };
  return { windows, cell, unitsPerS, endX, x: position, shown };
}
