import { describe, expect, it } from 'vitest';
import type { Onset } from '../../src/onset/onset.js';
import type { Pairing, Press } from '../../src/press/pairPresses.js';
import { dropUnbacked } from '../../src/press/unbackedAnswers.js';

/** One press a second; null where it has no answer, else the answer's lag (ms) and flags. */
function pairingOf(answers: readonly (readonly [lagMs: number, ...flags: string[]] | null)[]): Pairing {
  const presses = answers.map((answer, i): Press => {
    const led = { levelS: i, sign: 1, flags: [] } as unknown as Onset;
    const common = { index: i + 1, led, flags: [] };
    if (!answer) {
      const none = { region: 'screen', status: 'no-response' as const, onset: null, flags: [] };
      return { ...common, status: 'no-response', responses: [none] };
    }
    const [lagMs, ...flags] = answer;
    const onset = { levelS: i + lagMs / 1000, sign: 1, flags } as unknown as Onset;
    const response = { region: 'screen', status: 'measured' as const, onset, flags };
    return { ...common, status: 'measured', responses: [response] };
  });
  return { presses, unprompted: [], unmatchedDecisions: [] };
}
const statuses = (pairing: Pairing) => dropUnbacked(pairing).presses.map((p) => p.status);
const nones = (n: number) => Array<null>(n).fill(null);

describe('answers that nothing backs up', () => {
  it('where most presses have none, two that disagree are no answers, and say why', () => {
    const dropped = dropUnbacked(pairingOf([[362], [56], ...nones(8)]));
    expect(dropped.presses.map((p) => p.status)).toEqual([
      ...Array(2).fill('ambiguous'),
      ...Array(8).fill('no-response'),
    ]);
    expect(dropped.presses[0]!.reason).toMatch(/like none of those after other presses/);
    expect(dropped.presses[0]!.responses[0]!.onset).toBeNull();
  });

  it('where most presses have none, those that agree stay, and a single one does not', () => {
    expect(statuses(pairingOf([[56], [60], [71], [300], ...nones(6)])).slice(0, 4)).toEqual([
      ...Array(3).fill('measured'),
      'ambiguous',
    ]);
    expect(statuses(pairingOf([[56], ...nones(4)]))[0]).toBe('ambiguous');
    // Half of them, of which two come four refreshes before the others.
    expect(statuses(pairingOf([[84], [14], [89], [94], [19], ...nones(5)])).slice(0, 5)).toEqual([
      'measured',
      'ambiguous',
      'measured',
      'measured',
      'ambiguous',
    ]);
    const flickering = [136, 'flickering-light'] as const;
    expect(statuses(pairingOf([flickering, flickering, ...nones(8)]))[0]).toBe('ambiguous');
  });

  it('stay as they are where most presses have one, however they scatter', () => {
    expect(statuses(pairingOf([[30], [300], [90], ...nones(2)])).slice(0, 3)).not.toContain('ambiguous');
  });

  it('are those that come once only in light that flickers, where most do', () => {
    const once = ['odd-response', 'flickering-light'];
    expect(statuses(pairingOf([[64, ...once], [70, ...once], [60, ...once], [66]]))).toEqual([
      ...Array(3).fill('ambiguous'),
      'measured',
    ]);
    expect(statuses(pairingOf([[64, ...once], [70], [60], [66]]))).not.toContain('ambiguous');
    expect(statuses(pairingOf([[64, 'odd-response'], [70, 'odd-response'], [60]]))).not.toContain(
      'ambiguous',
    );
  });
});
