/** Walking through the frames of a clip: by frames, by time, and from onset to onset. */
import type { ClipRecord } from '../../../record/record.js';

/** One onset of a record, for marks and for stepping. */
export interface OnsetMark {
  /** On the capture clock. */
  readonly atS: number;
  /** 95 % interval, s; null where the record has none. */
  readonly intervalS: readonly [number, number] | null;
  /** The LED's for a press, else the region that changed. */
  readonly region: string;
  /** Press number from 1; null for a change that no press explains. */
  readonly press: number | null;
  readonly kind: 'press' | 'response' | 'unprompted';
}

/** The frame `by` further on, within the clip; `frames` is at least 1. */
export function steppedFrame(frame: number, by: number, frames: number): number {
  return Math.min(frames - 1, Math.max(0, frame + by));
}

/** Index of the value nearest to `atS` in ascending times; 0 where there are none. */
export function nearestFrame(timesS: ArrayLike<number>, atS: number): number {
  let low = 0;
  let high = timesS.length - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (timesS[middle]! < atS) low = middle + 1;
    else high = middle;
  }
  const before = low - 1;
  return before >= 0 && atS - timesS[before]! <= timesS[low]! - atS ? before : Math.max(0, low);
}

/** All onsets of a record in the order of time. Half the interval of a press is twice its standard uncertainty. */
export function onsetsOf(record: ClipRecord | null): readonly OnsetMark[] {
  if (record === null) return [];
  const led = record.recipe.regions.find((r) => r.role === 'led')?.name ?? 'led';
  const marks: OnsetMark[] = [];
  for (const press of record.presses) {
    const halfS = (2 * press.ledOnsetUncertaintyMs) / 1000;
    marks.push({
      atS: press.ledOnsetS,
      intervalS: [press.ledOnsetS - halfS, press.ledOnsetS + halfS],
      region: led,
      press: press.index,
      kind: 'press',
    });
    for (const response of press.responses) {
      if (response.onsetS === undefined) continue;
      const [from, to] = response.intervalMs ?? [null, null];
      const latencyMs = response.latencyMs ?? null;
      marks.push({
        atS: response.onsetS,
        intervalS:
          from === null || latencyMs === null
            ? null
            : [response.onsetS + (from - latencyMs) / 1000, response.onsetS + (to - latencyMs) / 1000],
        region: response.region,
        press: press.index,
        kind: 'response',
      });
    }
  }
  for (const { region, onsetS } of record.unprompted) {
    marks.push({ atS: onsetS, intervalS: null, region, press: null, kind: 'unprompted' });
  }
  return marks.sort((a, b) => a.atS - b.atS);
}

/**
 * The frame of the next onset after (or before) a frame. Onsets that round to the same frame are one stop.
 * @returns the frame itself where there is no further onset.
 */
export function onsetFrame(
  marks: readonly OnsetMark[],
  timesS: ArrayLike<number>,
  frame: number,
  direction: 1 | -1,
): number {
  const stops = marks.map((m) => nearestFrame(timesS, m.atS));
  const further = stops.filter((stop) => (direction > 0 ? stop > frame : stop < frame));
  if (further.length === 0) return frame;
  return direction > 0 ? Math.min(...further) : Math.max(...further);
}

/** The press that a frame belongs to: the last one at or before it; null before the first. */
export function pressAt(record: ClipRecord | null, atS: number): number | null {
  let found: number | null = null;
  for (const press of record?.presses ?? []) if (press.ledOnsetS <= atS + 1e-9) found = press.index;
  return found;
}
