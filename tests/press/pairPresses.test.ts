import { describe, expect, it } from 'vitest';
import type { Onset, OnsetSet } from '../../src/onset/onset.js';
import { type PairingOptions, type PressDecision, pairPresses } from '../../src/press/pairPresses.js';

type Change = Partial<Onset> & { readonly levelS: number };

function onset(change: Change): Onset {
  const { levelS } = change;
  return {
    frame: Math.round(levelS * 240),
    kind: 0,
    sign: 1,
    contrast: 50,
    firstLightS: levelS,
    halfS: levelS + 0.001,
    settledS: levelS + 0.004,
    sdS: 0.0002,
    excessKurtosis: 0,
    intervalS: [levelS - 0.0004, levelS + 0.0004],
    before: 0,
    after: 1,
    flags: [],
    ...change,
  };
}

function set(name: string, role: 'led' | 'screen', changes: readonly Change[]): OnsetSet {
  const shape = { tauT: 0, sweepT: 0 };
  return {
    region: { name, role, x: 0, y: 0, width: 8, height: 8 },
    onsets: changes.map(onset).sort((a, b) => a.levelS - b.levelS),
    shapes: { rise: shape, fall: shape },
    responseTimeMs: null,
    shapeSdS: 0,
    signals: [],
    light: 'held',
    refreshHz: null,
    warnings: [],
  };
}

const options: PairingOptions = { edgeSign: 1, windowS: [0, 0.5], clipEndS: 20, decisions: [] };
/** Presses once a second from 1 s, held for 100 ms. */
const pressTimes = [1, 2, 3, 4, 5, 6];
const ledOf = (times: readonly number[]) =>
  set(
    'led',
    'led',
    times.flatMap((t) => [{ levelS: t }, { levelS: t + 0.1, sign: -1 as const }]),
  );
const led = ledOf(pressTimes);
/** A screen that flashes 60 ms after each of these presses for 130 ms. */
const flashes = (times: readonly number[], more: readonly Change[] = []) =>
  set('top', 'screen', [
    ...times.flatMap((t) => [{ levelS: t + 0.06 }, { levelS: t + 0.19, sign: -1 as const }]),
    ...more,
  ]);
const statuses = (pairing: ReturnType<typeof pairPresses>) => pairing.presses.map((p) => p.status);

describe('pairing presses with responses', () => {
  it('gives each press the first change after it', () => {
    const pairing = pairPresses(led, [flashes(pressTimes)], options);
    expect(pairing.presses.map((p) => p.index)).toEqual([1, 2, 3, 4, 5, 6]);
    expect(statuses(pairing)).toEqual(Array(6).fill('measured'));
    pairing.presses.forEach((press, i) => {
      expect(press.led.levelS).toBe(pressTimes[i]);
      expect(press.responses).toHaveLength(1);
      expect(press.responses[0]!.onset?.levelS).toBe(pressTimes[i]! + 0.06);
    });
  });

  it('does not count the way back of a flash as unprompted', () => {
    expect(pairPresses(led, [flashes(pressTimes)], options).unprompted).toEqual([]);
  });

  it('says no-response, and lets no later change stand in', () => {
    const pairing = pairPresses(led, [flashes([1, 2, 4, 5, 6])], options);
    expect(statuses(pairing)).toEqual([
      'measured',
      'measured',
      'no-response',
      'measured',
      'measured',
      'measured',
    ]);
    expect(pairing.presses[2]!.responses[0]).toMatchObject({ status: 'no-response', onset: null });
    expect(pairing.unprompted).toEqual([]);
  });

  it('counts a change that no press explains', () => {
    const pairing = pairPresses(led, [flashes(pressTimes, [{ levelS: 3.7 }])], options);
    expect(statuses(pairing)).toEqual(Array(6).fill('measured'));
    expect(pairing.unprompted.map((u) => [u.region, u.onset.levelS])).toEqual([['top', 3.7]]);
  });

  it('does not guess: two presses before one change are both ambiguous', () => {
    const pairing = pairPresses(
      ledOf([1, 2, 3, 3.04, 4, 5]),
      [flashes([1, 2, 4, 5], [{ levelS: 3.09 }, { levelS: 3.22, sign: -1 }])],
      options,
    );
    expect(statuses(pairing)).toEqual([
      'measured',
      'measured',
      'ambiguous',
      'ambiguous',
      'measured',
      'measured',
    ]);
    for (const press of pairing.presses.slice(2, 4)) {
      expect(press.reason).toMatch(/another press/);
      expect(press.responses[0]!.onset).toBeNull();
    }
    // The change was used up in the question; it is no unprompted one.
    expect(pairing.unprompted).toEqual([]);
  });

  it('keeps two quick presses apart where each has a change of its own, and says so', () => {
    const pairing = pairPresses(
      ledOf([1, 2, 3, 3.3, 4, 5]),
      [
        set(
          'top',
          'screen',
          [1.4, 2.4, 3.4, 3.7, 4.4, 5.4].map((levelS) => ({ levelS })),
        ),
      ],
      options,
    );
    expect(statuses(pairing)).toEqual(Array(6).fill('measured'));
    expect(pairing.presses.map((p) => p.responses[0]!.onset?.levelS)).toEqual([1.4, 2.4, 3.4, 3.7, 4.4, 5.4]);
    expect(pairing.presses[2]!.responses[0]!.flags).toContain('next-press-before-response');
    expect(pairing.presses[0]!.responses[0]!.flags).toEqual([]);
  });

  it('ignores what moves on the screen by itself', () => {
    const idle = Array.from({ length: 60 }, (_, i) => ({
      levelS: 0.5 + 0.107 * i,
      kind: 1,
      sign: (i % 2 === 0 ? 1 : -1) as 1 | -1,
      contrast: 20,
    }));
    const pairing = pairPresses(led, [flashes(pressTimes, idle)], options);
    const answered = pairing.presses.map((p) => p.responses[0]!.onset?.levelS);
    expect(answered).toEqual(pressTimes.map((t) => t + 0.06));
    expect(pairing.unprompted).toEqual([]);
  });

  it('takes changes both ways where the screen toggles', () => {
    const toggles = pressTimes.map((t, i) => ({
      levelS: t + 0.05,
      sign: (i % 2 === 0 ? 1 : -1) as 1 | -1,
    }));
    const pairing = pairPresses(led, [set('top', 'screen', toggles)], options);
    expect(statuses(pairing)).toEqual(Array(6).fill('measured'));
    expect(pairing.unprompted).toEqual([]);
  });

  it('respects the response window at both ends', () => {
    const late = pairPresses(led, [flashes(pressTimes)], { ...options, windowS: [0, 0.05] });
    expect(statuses(late)).toEqual(Array(6).fill('no-response'));
    const early = pairPresses(led, [flashes(pressTimes)], { ...options, windowS: [0.07, 0.5] });
    expect(early.presses.every((p) => p.responses[0]!.onset?.levelS !== p.led.levelS + 0.06)).toBe(true);
  });

  it('takes the release as the press where asked', () => {
    const pairing = pairPresses(led, [flashes(pressTimes.map((t) => t + 0.1))], { ...options, edgeSign: -1 });
    expect(pairing.presses.map((p) => p.led.levelS)).toEqual(pressTimes.map((t) => t + 0.1));
    expect(statuses(pairing)).toEqual(Array(6).fill('measured'));
  });

  it('pairs every region on its own: one answering region makes the press measured', () => {
    const bottom = { ...flashes([1, 2, 3, 5, 6]), region: { ...flashes([]).region, name: 'bottom' } };
    const pairing = pairPresses(led, [flashes(pressTimes), bottom], options);
    expect(statuses(pairing)).toEqual(Array(6).fill('measured'));
    expect(pairing.presses[3]!.responses.map((r) => [r.region, r.status])).toEqual([
      ['top', 'measured'],
      ['bottom', 'no-response'],
    ]);
  });

  it('excludes the press nearest to a decision, within 50 ms, with its reason', () => {
    const decisions: PressDecision[] = [
      { pressAtS: 2.049, decision: 'exclude', reason: 'two buttons' },
      { pressAtS: 4.9501, decision: 'exclude', reason: 'slipped' },
    ];
    const pairing = pairPresses(led, [flashes(pressTimes)], { ...options, decisions });
    expect(statuses(pairing)).toEqual([
      'measured',
      'excluded',
      'measured',
      'measured',
      'excluded',
      'measured',
    ]);
    expect(pairing.presses[1]!.reason).toBe('two buttons');
    expect(pairing.presses[4]!.reason).toBe('slipped');
    expect(pairing.unmatchedDecisions).toEqual([]);
    // Excluded, not forgotten: its response stays visible.
    expect(pairing.presses[1]!.responses[0]!.onset?.levelS).toBe(2.06);
  });

  it('takes an exclusion back, and the last decision on a press holds', () => {
    const decide = (...words: ('exclude' | 'restore')[]) =>
      words.map((decision, i): PressDecision => ({ pressAtS: 2.02 + i / 100, decision, reason: `${i}` }));
    const decided = (decisions: PressDecision[]) =>
      pairPresses(led, [flashes(pressTimes)], { ...options, decisions }).presses[1]!;
    const untouched = decided([]);
    expect(decided(decide('exclude', 'restore'))).toEqual(untouched);
    expect(decided(decide('restore'))).toEqual(untouched);
    expect(decided(decide('exclude', 'restore', 'exclude'))).toMatchObject({
      status: 'excluded',
      reason: '2',
    });
  });

  it('hands back decisions that match no press', () => {
    const decisions: PressDecision[] = [{ pressAtS: 2.051, decision: 'exclude', reason: 'too far' }];
    const pairing = pairPresses(led, [flashes(pressTimes)], { ...options, decisions });
    expect(statuses(pairing)).toEqual(Array(6).fill('measured'));
    expect(pairing.unmatchedDecisions).toEqual(decisions);
  });

  it('does not blame the chain for the end of the clip', () => {
    const pairing = pairPresses(led, [flashes([1, 2, 3, 4, 5])], { ...options, clipEndS: 6.2 });
    expect(statuses(pairing)).toEqual([...Array(5).fill('measured'), 'excluded']);
    expect(pairing.presses[5]!.reason).toMatch(/clip ends/);
    // A response that was still seen counts, however near the end is.
    expect(statuses(pairPresses(led, [flashes(pressTimes)], { ...options, clipEndS: 6.2 }))).toEqual(
      Array(6).fill('measured'),
    );
  });

  it('says nothing where nothing happened', () => {
    const empty = pairPresses(ledOf([]), [flashes([])], options);
    expect(empty.presses).toEqual([]);
    expect(empty.unprompted).toEqual([]);
    const dead = pairPresses(led, [flashes([])], options);
    expect(statuses(dead)).toEqual(Array(6).fill('no-response'));
  });
});

describe('a screen whose light stays away', () => {
  it('no change where none could be seen is ambiguous; elsewhere it is no response', () => {
    const screen = { ...flashes([1, 2, 5, 6]), unseenS: [[2.9, 3.4]] as const };
    const pairing = pairPresses(led, [screen], options);
    expect(statuses(pairing)).toEqual([
      'measured',
      'measured',
      'ambiguous',
      'no-response',
      'measured',
      'measured',
    ]);
    expect(pairing.presses[2]!.reason).toContain('fell between the exposures');
  });
});
