import { describe, expect, it } from 'vitest';
import type { Onset, OnsetSet } from '../../src/onset/onset.js';
import type { Pairing, Press } from '../../src/press/pairPresses.js';
import { flagReturns } from '../../src/press/returnAnswers.js';

const region = { name: 'screen', role: 'screen' as const, x: 0, y: 0, width: 8, height: 8 };
const screens = [{ region, onsets: [] } as unknown as OnsetSet];

/** Presses with answers of a lag (ms) and a direction each. */
function pairingOf(answers: readonly (readonly [lagMs: number, sign: 1 | -1])[]): Pairing {
  const presses = answers.map(([lagMs, sign], i): Press => {
    const led = { levelS: i, sign: 1, flags: [] } as unknown as Onset;
    const onset = { levelS: i + lagMs / 1000, sign, flags: [] } as unknown as Onset;
    const answer = { region: 'screen', status: 'measured' as const, onset, flags: [] };
    return { index: i + 1, led, status: 'measured', flags: [], responses: [answer] };
  });
  return { presses, unprompted: [], unmatchedDecisions: [] };
}
const flagged = (pairing: Pairing) =>
  flagReturns(pairing, screens).presses.map((p) => p.responses[0]!.flags.includes('perhaps-the-return'));

describe('answers that may be the return of the picture', () => {
  it('are those of the direction that always comes later, by more than a response takes', () => {
    const lost = pairingOf([
      ...([80, 84, 76] as const).map((lag) => [lag, 1] as const),
      ...([186, 190, 181] as const).map((lag) => [lag, -1] as const),
    ]);
    expect(flagged(lost)).toEqual([false, false, false, true, true, true]);
  });

  it('are no answers where the picture returns as late after the other presses', () => {
    const lost = pairingOf([
      ...([80, 84, 76] as const).map((lag) => [lag, 1] as const),
      ...([186, 190, 181] as const).map((lag) => [lag, -1] as const),
    ]);
    const unprompted = [0.187, 1.191, 2.183].map((levelS) => ({
      region: 'screen',
      onset: { levelS, sign: -1, flags: [] } as unknown as Onset,
    }));
    const statuses = flagReturns({ ...lost, unprompted }, screens).presses.map((p) => p.status);
    expect(statuses).toEqual([...Array(3).fill('measured'), ...Array(3).fill('ambiguous')]);
    const toggled = flagReturns(lost, screens).presses.map((p) => p.status);
    expect(toggled).not.toContain('ambiguous');
  });

  it('are no answers where the picture was there already', () => {
    const lost = pairingOf([
      ...([80, 84, 76] as const).map((lag) => [lag, 1] as const),
      ...([186, 190, 181, 185] as const).map((lag) => [lag, -1] as const),
    ]);
    const onsets = lost.presses.map((p) => p.responses[0]!.onset!);
    const statuses = flagReturns(lost, [{ region, onsets } as unknown as OnsetSet]).presses.map(
      (p) => p.status,
    );
    expect(statuses).toEqual([...Array(3).fill('measured'), ...Array(4).fill('ambiguous')]);
  });

  it('are none of a picture that is switched to and fro, though its fall be slower by 20 ms', () => {
    const toggled = pairingOf(
      [60, 75, 66, 71].flatMap((lag) => [[lag, 1] as const, [lag + 20, -1] as const]),
    );
    expect(flagged(toggled)).not.toContain(true);
  });

  it('are not told from two answers', () => {
    const few = pairingOf([
      [80, 1],
      [82, 1],
      [78, 1],
      [190, -1],
      [186, -1],
    ]);
    expect(flagged(few)).not.toContain(true);
  });

  it('come when another region of the display returns from an answer the other way', () => {
    const onset = (lagMs: number, sign: 1 | -1) =>
      ({ levelS: lagMs / 1000, sign, flags: [] }) as unknown as Onset;
    const answer = (name: string, o: Onset) => ({
      region: name,
      status: 'measured' as const,
      onset: o,
      flags: [],
    });
    const led = { levelS: 0, sign: 1, flags: [] } as unknown as Onset;
    const flagsOf = (middle: readonly Onset[], bottom: Onset) => {
      const responses = [answer('middle', middle[0]!), answer('bottom', bottom)];
      const press: Press = { index: 1, led, status: 'measured', flags: [], responses };
      const sets = [
        { region: { ...region, name: 'middle' }, onsets: middle },
        { region: { ...region, name: 'bottom' }, onsets: [bottom] },
      ] as unknown as OnsetSet[];
      const judged = flagReturns({ presses: [press], unprompted: [], unmatchedDecisions: [] }, sets);
      return judged.presses[0]!.responses.map((r) => r.flags.includes('perhaps-the-return'));
    };
    expect(flagsOf([onset(60, -1), onset(190, 1)], onset(205, 1))).toEqual([false, true]);
    // Another part of the screen that answers later by itself.
    expect(flagsOf([onset(60, -1), onset(400, 1)], onset(205, 1))).toEqual([false, false]);
    expect(flagsOf([onset(60, -1), onset(190, 1)], onset(75, -1))).toEqual([false, false]);
    // A slow panel that is drawn downwards.
    expect(flagsOf([onset(60, -1), onset(80, 1)], onset(82, 1))).toEqual([false, false]);
  });
});
