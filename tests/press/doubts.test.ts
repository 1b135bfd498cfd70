import { describe, expect, it } from 'vitest';
import type { Onset } from '../../src/onset/onset.js';
import { flagDoubts } from '../../src/press/doubts.js';
import type { Response } from '../../src/press/pairPresses.js';

function response(levelS: number, change: Partial<Onset> = {}): Response {
  const onset: Onset = {
    frame: 0,
    kind: 0,
    sign: 1,
    contrast: 100,
    firstLightS: levelS,
    levelS,
    halfS: levelS,
    settledS: levelS,
    sdS: 1e-4,
    excessKurtosis: 0,
    intervalS: [levelS, levelS],
    before: 0,
    after: 1,
    flags: [],
    ...change,
  };
  return { region: 'screen', status: 'measured', onset, flags: [] };
}

const presses = [0, 1, 2, 3, 4, 5];
const flagsOf = (list: readonly Response[]) => flagDoubts(list, presses).map((r) => r.flags);

describe('doubts about responses', () => {
  it('none where all are alike, within a wait of one refresh', () => {
    expect(flagsOf(presses.map((p) => response(p + 0.06 + 0.003 * p)))).toEqual(presses.map(() => []));
  });

  it('a latency far from the usual one', () => {
    const list = presses.map((p) => response(p + (p === 3 ? 0.2 : 0.06)));
    expect(flagsOf(list)[3]).toEqual(['unusual-latency']);
    expect(flagsOf(list)[2]).toEqual([]);
  });

  it('a change much weaker than the others', () => {
    const list = presses.map((p) => response(p + 0.06, p === 1 ? { contrast: 30 } : {}));
    expect(flagsOf(list)[1]).toEqual(['weak-response']);
  });

  it('the only change of its kind', () => {
    const list = presses.map((p) => response(p + 0.06, { kind: p === 5 ? 1 : 0 }));
    expect(flagsOf(list)[5]).toEqual(['odd-response']);
  });

  it('says nothing about fewer than five', () => {
    const list = [response(0.06), response(1.06), response(2.3, { kind: 1, contrast: 1 })];
    expect(flagDoubts(list, presses).every((r) => r.flags.length === 0)).toBe(true);
  });
});
