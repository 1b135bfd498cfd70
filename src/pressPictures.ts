/** Which frames are shown around a press, and small grey pictures of them, so that proof can be drawn without the samples. */
import type { CaptureClock } from './clip/captureClock.js';
import type { OnsetSet } from './onset/onset.js';
import { type ClipSamples, LIGHT_SCALE, type RegionSamples } from './samples/samples.js';
import { encodeLight } from './units.js';

/** Pictures of one region. */
export interface RegionPictures {
  readonly columns: number;
  readonly rows: number;
  /** The frames that there are pictures of, ascending. */
  readonly frames: Uint32Array;
  /** `frames.length * rows * columns`, one picture after another, grey level for display. */
  readonly grey: Uint8Array;
}

// Frames shown before and after an onset; what lies between two onsets is shown only where it is short.
const BEFORE = 4;
const BEFORE_ANSWER = BEFORE + 2;
const AFTER = 6;
const SHOW_ALL_UP_TO = 30;
// A change may settle slowly; its end should be in the picture, within reason.
const AFTER_SLOW = 14;

type Span = readonly [from: number, to: number];

function cueSpan(frame: number): Span {
  return [frame - BEFORE, frame + AFTER];
}

function answerSpan(frame: number, periodS: number): Span {
  const after = Math.min(AFTER_SLOW, Math.max(AFTER, Math.round(0.012 / periodS)));
  return [frame - BEFORE_ANSWER, frame + after];
}

/** Frames that are shown of one press with these answers, of `total` frames. */
export function framesToShow(
  ledFrame: number,
  answers: readonly number[],
  total: number,
  periodS: number,
): number[] {
  const spans = [cueSpan(ledFrame), ...answers.map((frame) => answerSpan(frame, periodS))];
  const first = Math.max(0, Math.min(...spans.map(([from]) => from)));
  const last = Math.min(total - 1, Math.max(...spans.map(([, to]) => to)));
  const frames: number[] = [];
  for (let k = first; k <= last; k++) {
    if (last - first < SHOW_ALL_UP_TO || spans.some(([from, to]) => k >= from && k <= to)) frames.push(k);
  }
  return frames;
}

/** Pictures of every frame that is shown of any press, whatever is paired with what; in the order of `samples.regions`. */
export function pressPictures(
  samples: ClipSamples,
  clock: Pick<CaptureClock, 'periodS'>,
  led: OnsetSet,
  screens: readonly OnsetSet[],
): RegionPictures[] {
  const cues = led.onsets.map((o) => o.frame);
  const answers = screens.flatMap((s) => s.onsets.map((o) => o.frame)).sort((a, b) => a - b);
  const isShown = new Uint8Array(samples.frames);
  const show = ([from, to]: Span) => isShown.fill(1, Math.max(0, from), Math.max(0, to + 1));
  for (const frame of answers) show(answerSpan(frame, clock.periodS));
  for (const frame of cues) {
    const [from, to] = cueSpan(frame);
    show([from, to]);
    // What lies between is shown of short presses only.
    const near = answers.filter((a) => Math.abs(a - frame) < SHOW_ALL_UP_TO);
    for (const answer of near) {
      const [answerFrom, answerTo] = answerSpan(answer, clock.periodS);
      const both: Span = [Math.min(from, answerFrom), Math.max(to, answerTo)];
      const length = Math.min(samples.frames - 1, both[1]) - Math.max(0, both[0]);
      if (length < SHOW_ALL_UP_TO) show(both);
    }
  }
  const frames = Uint32Array.from(Array.from(isShown.keys()).filter((k) => isShown[k] === 1));
  const levels = greyTable();
  return samples.regions.map((region) => picturesOf(region, frames, levels));
}

/** One picture, where it is kept; its frame is one of `framesToShow`. */
export function pictureAt({ columns, rows, frames, grey }: RegionPictures, frame: number): Uint8Array {
  const cells = columns * rows;
  const at = placeOf(frames, frame);
  if (frames[at] !== frame) throw new Error(`no picture is kept of frame ${frame}`);
  return grey.subarray(at * cells, (at + 1) * cells);
}

function placeOf(frames: Uint32Array, frame: number): number {
  let low = 0;
  let high = frames.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (frames[middle]! < frame) low = middle + 1;
    else high = middle;
  }
  return low;
}

function picturesOf(
  { columns, rows, light }: RegionSamples,
  frames: Uint32Array,
  levels: Uint8Array,
): RegionPictures {
  const cells = columns * rows;
  const grey = new Uint8Array(frames.length * cells);
  let to = 0;
  for (const frame of frames) {
    const from = frame * cells;
    for (let c = 0; c < cells; c++) grey[to++] = levels[light[from + c]!]!;
  }
  return { columns, rows, frames, grey };
}

/** Stored light to a grey level for display, through the BT.709 curve; one entry a stored value. */
function greyTable(): Uint8Array {
  return Uint8Array.from({ length: 65_536 }, (_, stored) =>
    Math.round(255 * Math.min(1, encodeLight(stored / LIGHT_SCALE, 'bt709'))),
  );
}
