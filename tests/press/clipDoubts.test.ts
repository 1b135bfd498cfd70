import { describe, expect, it } from 'vitest';
import type { Onset, OnsetSet } from '../../src/onset/onset.js';
import {
  answeredCount,
  flaggedShare,
  flagWide,
  isMostlyUnanswered,
  isOtherEdge,
  ledLitShare,
  withClipDoubts,
} from '../../src/press/clipDoubts.js';
import type { Pairing } from '../../src/press/pairPresses.js';

function ledOf(edges: readonly (readonly [number, 1 | -1])[]): OnsetSet {
  const shape = { tauT: 0, sweepT: 0 };
  return {
    region: { name: 'led', role: 'led', x: 0, y: 0, width: 8, height: 8 },
    onsets: edges.map(([levelS, sign]) => ({ levelS, sign, flags: [] }) as unknown as Onset),
    shapes: { rise: shape, fall: shape },
    responseTimeMs: null,
    shapeSdS: 0,
    signals: [],
    light: 'held',
    refreshHz: null,
    warnings: [],
  };
}

describe('doubts about a whole clip', () => {
  it('a clip most of whose presses have no answer says so of the others; few presses do not', () => {
    expect(isMostlyUnanswered(10, 4)).toBe(true);
    expect(isMostlyUnanswered(10, 5)).toBe(false);
    expect(isMostlyUnanswered(10, 0)).toBe(false);
    expect(isMostlyUnanswered(3, 1)).toBe(false);
  });

  it('how long the LED is lit, from its edges', () => {
    const blinks = ledOf([
      [1, 1],
      [1.5, -1],
      [3, 1],
      [3.5, -1],
    ]);
    expect(ledLitShare(blinks, 4)).toBeCloseTo(0.25, 12);
    const goesOut = ledOf([
      [1, -1],
      [1.5, 1],
    ]);
    expect(ledLitShare(goesOut, 4)).toBeCloseTo(3.5 / 4, 12);
    expect(ledLitShare(ledOf([]), 4)).toBeNull();
  });

  it('a light that rests lit contradicts a press that lights it, and the other way round', () => {
    const goesOut = ledOf([
      [1, -1],
      [1.2, 1],
    ]);
    expect(isOtherEdge(goesOut, 4, 1)).toBe(true);
    expect(isOtherEdge(goesOut, 4, -1)).toBe(false);
  });

  it('counts the measured presses that one of several regions answered', () => {
    const response = (region: string, status: 'measured' | 'no-response' | 'ambiguous') => ({
      region,
      status,
      onset: null,
      flags: [],
    });
    const press = (index: number, status: 'measured' | 'ambiguous', low: 'measured' | 'ambiguous') => ({
      index,
      led: ledOf([[1, 1]]).onsets[0]!,
      status,
      flags: [],
      responses: [response('led', 'measured'), response('low', low)],
    });
    const pairing: Pairing = {
      presses: [
        press(1, 'measured', 'measured'),
        press(2, 'measured', 'ambiguous'),
        press(3, 'ambiguous', 'measured'),
      ],
      unprompted: [],
      unmatchedDecisions: [],
    };
    const screen = (name: string) => ({ ...ledOf([]), region: { ...ledOf([]).region, name } });
    expect(answeredCount(pairing, screen('low'))).toBe(1);
    expect(answeredCount(pairing, screen('led'))).toBe(2);
  });

  it('flags every press, and counts flagged responses', () => {
    const response = (flags: readonly string[]) => ({
      region: 'a',
      status: 'measured' as const,
      onset: null,
      flags,
    });
    const press = (index: number, flags: readonly string[]) => ({
      index,
      led: ledOf([[1, 1]]).onsets[0]!,
      status: 'measured' as const,
      flags: [],
      responses: [response(flags)],
    });
    const pairing: Pairing = {
      presses: [press(1, []), press(2, ['weak-response'])],
      unprompted: [],
      unmatchedDecisions: [],
    };
    expect(flaggedShare(pairing)).toBe(0.5);
    const doubted = withClipDoubts(pairing, ['regions-unsure']);
    expect(doubted.presses.map((p) => p.flags)).toEqual([['regions-unsure'], ['regions-unsure']]);
    expect(flaggedShare(doubted)).toBe(1);
    const wide = flagWide(pairing, (press) => press === 1);
    expect(wide.presses.map((p) => p.responses[0]!.flags.includes('wide-interval'))).toEqual([false, true]);
  });
});
