/** Frames by number, by time, and from onset to onset. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  nearestFrame,
  onsetFrame,
  onsetsOf,
  pressAt,
  steppedFrame,
} from '../../src/desk/page/logic/stepping.js';
import { normalRecord } from '../report/fixtures.js';

const record = normalRecord();
const timesS = Float64Array.from({ length: 2400 }, (_, k) => k / 240);

describe('stepping', () => {
  it('stays in the clip', () => {
    expect(steppedFrame(0, -1, 100)).toBe(0);
    expect(steppedFrame(95, 10, 100)).toBe(99);
    expect(steppedFrame(5, 10, 100)).toBe(15);
  });
  it('the nearest frame is the nearest', () => {
    const irregular = Float64Array.of(0, 0.004, 0.0085, 0.02, 0.0201);
    fc.assert(
      fc.property(fc.double({ min: -1, max: 1, noNaN: true }), (atS) => {
        const found = Math.abs(irregular[nearestFrame(irregular, atS)]! - atS);
        return irregular.every((t) => found <= Math.abs(t - atS) + 1e-15);
      }),
    );
    expect(nearestFrame([], 1)).toBe(0);
  });
  it('every onset of the record is a mark, in order', () => {
    const marks = onsetsOf(record);
    const answered = record.presses.flatMap((p) => p.responses).filter((r) => r.onsetS !== undefined);
    expect(marks.length).toBe(record.presses.length + answered.length + record.unprompted.length);
    expect(marks.map((m) => m.atS)).toEqual(marks.map((m) => m.atS).sort((a, b) => a - b));
    const one = marks.find((m) => m.kind === 'response' && m.intervalS !== null)!;
    const response = record.presses
      .find((p) => p.index === one.press)!
      .responses.find((r) => r.region === one.region)!;
    expect(1000 * (one.intervalS![1] - one.intervalS![0])).toBeCloseTo(
      response.intervalMs![1] - response.intervalMs![0],
      9,
    );
    expect(onsetsOf(null)).toEqual([]);
  });
  it('from onset to onset, forwards as backwards, and no further', () => {
    const marks = onsetsOf(record);
    const stops: number[] = [];
    for (let at = -1; ; ) {
      const next = onsetFrame(marks, timesS, at, 1);
      if (next === at) break;
      stops.push(next);
      at = next;
    }
    expect(stops).toEqual([...new Set(marks.map((m) => nearestFrame(timesS, m.atS)))].sort((a, b) => a - b));
    const last = stops.at(-1)!;
    expect(onsetFrame(marks, timesS, last, 1)).toBe(last);
    expect(onsetFrame(marks, timesS, last, -1)).toBe(stops.at(-2));
  });
  it('the press of a moment', () => {
    const [first, second] = record.presses;
    expect(pressAt(record, first!.ledOnsetS - 0.01)).toBeNull();
    expect(pressAt(record, second!.ledOnsetS)).toBe(second!.index);
  });
});
