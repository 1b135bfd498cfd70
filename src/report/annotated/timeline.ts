/** Which camera frame an annotated clip shows when, and what its counter says. Numbers in, plan out; no pictures here. */
import { UsageError } from '../../errors.js';
import type { ClipRecord, PressRecord, ResponseRecord } from '../../record/record.js';

/** When the camera saw one region: the same clock that the record's times stand on. */
export interface RegionClock {
  /** Timestamp of each camera frame, s on the capture clock. */
  readonly capturedAtS: Float64Array;
  readonly missingBefore: Uint16Array;
  /** Capture period, s. */
  readonly periodS: number;
  /** From a frame's timestamp to the middle of its exposure at the region's own rows, s. */
  readonly middleS: number;
}

/**
 * Where a camera frame stands in the story of its press. `before`: ahead of the press; `waiting`: after it, without an
 * answer yet; `answer`: the first frame whose middle of exposure is not before the response (it is frozen); `after`.
 */
export type Phase = 'before' | 'waiting' | 'answer' | 'after';

/** One camera frame on show. */
export interface ShownFrame {
  /** Index of the camera frame in the clip. */
  readonly frame: number;
  /** Middle of exposure at the region's rows, ms from the press; what the counter says. */
  readonly counterMs: number;
  readonly phase: Phase;
  /** Camera periods that it stands for: 1, and 1 for each frame missing after it. */
  readonly periods: number;
}

/** The frames around one press. */
export interface PressScene {
  readonly press: PressRecord;
  /** The measured answer in the region; null where there is none. */
  readonly response: ResponseRecord | null;
  readonly frames: readonly ShownFrame[];
}

/** Shown before the press and after the response has settled, s of capture time. */
const LEAD_S = 0.06;
const TAIL_S = 0.08;

/**
 * Zero of the counter, s on the capture clock: the LED's onset, moved by the recipe's cue delay as the record's
 * latencies are, so that the counter at the response's onset equals the latency.
 */
export function counterZeroS(record: ClipRecord, press: PressRecord): number {
  return press.ledOnsetS - record.recipe.cue.delayMs / 1000;
}

/** The measured answer of a press in a region, whole or null: what the film freezes at. */
export function responseToShow(press: PressRecord, region: string): ResponseRecord | null {
  const response = press.responses.find((r) => r.region === region);
  const whole =
    response?.status === 'measured' &&
    [
      response.firstLightS,
      response.onsetS,
      response.settledS,
      response.latencyMs,
      response.uncertaintyMs,
    ].every((v) => v !== undefined);
  return whole ? response : null;
}

/**
 * The scenes of the wanted presses in one screen region, in order; a frame belongs to one scene only. A press without
 * response is shown to the end of the response window.
 * @throws UsageError for a press that the record does not have.
 */
export function pressScenes(
  record: ClipRecord,
  region: string,
  pressIndices: readonly number[],
  clock: RegionClock,
): readonly PressScene[] {
  const frames = clock.capturedAtS.length;
  let free = 0;
  return pressIndices.map((index) => {
    const press = record.presses.find((p) => p.index === index);
    if (press === undefined) {
      throw new UsageError(
        `there is no press ${index} in ${record.clip.file}: its record has ${record.presses.length}`,
      );
    }
    const response = responseToShow(press, region);
    const zeroS = counterZeroS(record, press);
    const onsetS = response?.onsetS;
    const endS =
      onsetS === undefined
        ? zeroS + record.recipe.response.windowMs[1] / 1000
        : Math.max(onsetS, response?.settledS ?? onsetS) + TAIL_S;
    const nextPressS =
      record.presses.find((p) => p.ledOnsetS > press.ledOnsetS)?.ledOnsetS ?? Number.POSITIVE_INFINITY;
    const lastS = onsetS === undefined ? Math.min(endS, nextPressS) : endS;
    const middle = (k: number) => clock.capturedAtS[k]! + clock.middleS;
    let first = free;
    while (first < frames - 1 && middle(first) < press.ledOnsetS - LEAD_S) first++;
    const shown: ShownFrame[] = [];
    for (let k = first; k < frames && (k === first || middle(k) <= lastS); k++) {
      const answered = onsetS !== undefined && middle(k) >= onsetS;
      const answeredBefore = onsetS !== undefined && k > 0 && middle(k - 1) >= onsetS;
      const next = k + 1 < frames ? (clock.missingBefore[k + 1] ?? 0) : 0;
      shown.push({
        frame: k,
        counterMs: (middle(k) - zeroS) * 1000,
        phase: answered ? (answeredBefore ? 'after' : 'answer') : middle(k) < zeroS ? 'before' : 'waiting',
        // A pause of the recording is no gap to sit through.
        periods: 1 + (next <= MAX_GAP_PERIODS ? next : 0),
      });
    }
    free = (shown.at(-1)?.frame ?? first - 1) + 1;
    return { press, response, frames: shown };
  });
}

const MAX_GAP_PERIODS = 60;

/** One camera frame with its place in the film that is made. */
export interface FilmStep {
  /** Index of the scene. */
  readonly scene: number;
  readonly shown: ShownFrame;
  /** Pictures of the film that show it, freeze included. */
  readonly repeats: number;
}

/** The film: every camera frame of every scene, slowed, with its freezes. */
export interface Film {
  /** Pictures a second of the film. */
  readonly rateHz: number;
  /** How much slower than life. */
  readonly slow: number;
  readonly steps: readonly FilmStep[];
  /** Pictures in all. */
  readonly pictures: number;
}

/** The answer stands still for so long, and each scene's last frame, s of the film. */
export const FREEZE_S = 1.5;
const LAST_S = 0.7;
/** Fewer pictures a second than this look broken in some players; frames are then shown several times. */
const MIN_RATE_HZ = 24;

/**
 * Slows the scenes down: each camera frame is shown for `slow` camera periods, by a whole number of pictures, so that
 * no camera frame is dropped, blended or shown unevenly.
 */
export function makeFilm(scenes: readonly PressScene[], periodS: number, slow: number): Film {
  const shownHz = 1 / (periodS * slow);
  const copies = Math.max(1, Math.ceil(MIN_RATE_HZ / shownHz - 1e-9));
  const rateHz = shownHz * copies;
  const steps = scenes.flatMap((scene, index) =>
    scene.frames.map((shown, i): FilmStep => {
      const heldS = shown.phase === 'answer' ? FREEZE_S : i === scene.frames.length - 1 ? LAST_S : 0;
      const repeats = copies * shown.periods + Math.round(heldS * rateHz);
      return { scene: index, shown, repeats };
    }),
  );
  return { rateHz, slow, steps, pictures: steps.reduce((sum, s) => sum + s.repeats, 0) };
}
