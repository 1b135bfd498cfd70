/** Changes of the camera's exposure while a screen answers, seen in the light around the LED. */
import type { Trace } from '../trace/trace.js';
import type { Onset, OnsetSet } from './onset.js';

/** The light around an LED, as far as it tells of the camera's exposure. */
export interface LightAroundLed {
  /** Mean of the LED's region, one a frame. */
  readonly meanLight: Float64Array;
  /** Start of exposure of each frame, s. */
  readonly openS: Float64Array;
  readonly periodS: number;
}

/** Frames of steady light that are averaged on each side of a response, s. */
const SIDE_S = 0.06;
const LEAST_SIDE_FRAMES = 3;
/** Relative change of the light that no drift makes within a response. */
const LEAST_STEP = 0.06;
/** How far out of the other responses' scatter it must be: their median absolute distance from the median, times this. */
const OUT_OF_SCATTER = 8;
/** Fewer responses have no usual change, such as the screen's own glow on the controller makes each time. */
const LEAST_RESPONSES = 5;
/** Responses of one screen's regions to one change lie within a refresh of each other (60 Hz). */
const SAME_STEP_S = 1 / 60;
const FLAG = 'exposure-step';

/** What an LED's trace tells of the light around it. */
export function lightAround({ frames, cells, light, openS, periodS }: Trace): LightAroundLed {
  const meanLight = new Float64Array(frames);
  for (let k = 0; k < frames; k++) {
    let sum = 0;
    for (let c = 0; c < cells; c++) sum += light[k * cells + c]!;
    meanLight[k] = sum / cells;
  }
  return { meanLight, openS, periodS };
}

/**
 * A screen's onsets, with `exposure-step` on those during which the light of the LED's region changed in another way than
 * during the others, while the LED itself did not switch: the camera changed its exposure, or the room its light, and
 * the screen's change is not its own alone.
 */
export function flagExposureSteps(
  screen: OnsetSet,
  around: LightAroundLed,
  ledOnsets: readonly Pick<Onset, 'frame'>[],
): OnsetSet {
  const switches = ledOnsets.map((o) => o.frame);
  const changes = screen.onsets.map((onset) => changeAround(onset, around, switches));
  const odd = new Set<number>();
  for (const sign of [1, -1] as const) {
    const alike = screen.onsets.flatMap(({ sign: own }, i) =>
      own === sign && changes[i] !== null ? [i] : [],
    );
    if (alike.length < LEAST_RESPONSES) continue;
    const usual = median(alike.map((i) => changes[i]!));
    const scatter = median(alike.map((i) => Math.abs(changes[i]! - usual)));
    for (const i of alike) {
      if (Math.abs(changes[i]! - usual) > Math.max(LEAST_STEP, OUT_OF_SCATTER * scatter)) odd.add(i);
    }
  }
  if (odd.size === 0) return screen;
  const onsets = screen.onsets.map((o, i) => (odd.has(i) ? { ...o, flags: [...o.flags, FLAG] } : o));
  return { ...screen, onsets };
}

/**
 * The same of all regions of a screen: a step that one region's responses showed falls into those of the other regions
 * about that time as well, though their own light round the LED may have been too busy to show it.
 */
export function flagSharedSteps(
  screens: readonly OnsetSet[],
  around: LightAroundLed,
  ledOnsets: readonly Pick<Onset, 'frame'>[],
): OnsetSet[] {
  const judged = screens.map((screen) => flagExposureSteps(screen, around, ledOnsets));
  const steps = judged.flatMap((s) => s.onsets.filter((o) => o.flags.includes(FLAG)));
  if (steps.length === 0) return judged;
  const meets = (onset: Onset) =>
    steps.some(
      (step) =>
        onset.firstLightS < step.settledS + SAME_STEP_S && onset.settledS > step.firstLightS - SAME_STEP_S,
    );
  return judged.map((screen) => ({
    ...screen,
    onsets: screen.onsets.map((o) =>
      !o.flags.includes(FLAG) && meets(o) ? { ...o, flags: [...o.flags, FLAG] } : o,
    ),
  }));
}

/** Relative change of the LED region's light over a response; null where the LED switches meanwhile. */
function changeAround(
  { firstLightS, settledS }: Onset,
  { openS, periodS, meanLight }: LightAroundLed,
  switches: readonly number[],
): number | null {
  const frames = meanLight.length;
  const side = Math.max(LEAST_SIDE_FRAMES, Math.round(SIDE_S / periodS));
  let first = 0;
  while (first < frames && openS[first]! + periodS < firstLightS) first++;
  let last = first;
  while (last < frames && openS[last]! < settledS + periodS) last++;
  let from = Math.max(0, first - side);
  let to = Math.min(frames, last + side);
  for (const frame of switches) {
    if (frame <= first) from = Math.max(from, frame + 2);
    else if (frame >= last) to = Math.min(to, frame - 2);
    else return null;
  }
  if (first - from < LEAST_SIDE_FRAMES || to - last < LEAST_SIDE_FRAMES) return null;
  const before = meanOf(meanLight, from, first);
  return before > 0 ? meanOf(meanLight, last, to) / before - 1 : null;
}

function meanOf(values: Float64Array, from: number, to: number): number {
  let sum = 0;
  for (let k = from; k < to; k++) sum += values[k]!;
  return sum / (to - from);
}

function median(values: readonly number[]): number {
  return [...values].sort((a, b) => a - b)[values.length >> 1]!;
}
