import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../src/numeric/seededRandom.js';
import type { Onset, OnsetSet } from '../../src/onset/onset.js';
import { chanceOfAnswers, judgeByChance } from '../../src/press/chanceAnswers.js';
import type { Pairing, Press } from '../../src/press/pairPresses.js';

const region = { name: 'screen', role: 'screen' as const, x: 0, y: 0, width: 8, height: 8 };
const onset = (levelS: number) => ({ levelS, sign: 1, kind: 0, flags: [] }) as unknown as Onset;
const screenOf = (changesS: readonly number[]) =>
  ({ region, onsets: changesS.map(onset) }) as unknown as OnsetSet;

/** Each press with the first change within half a second after it. */
function pair(pressesS: readonly number[], changesS: readonly number[]): Pairing {
  const presses = pressesS.flatMap((pressS, i): Press[] => {
    const answerS = changesS.find((c) => c > pressS && c < pressS + 0.5);
    if (answerS === undefined) return [];
    const answer = { region: 'screen', status: 'measured' as const, onset: onset(answerS), flags: [] };
    return [{ index: i + 1, led: onset(pressS), status: 'measured', flags: [], responses: [answer] }];
  });
  return { presses, unprompted: [], unmatchedDecisions: [] };
}

const pressesOf = (random: ReturnType<typeof seededRandom>, count: number) =>
  Array.from({ length: count }, (_, i) => 0.3 + 0.7 * i + 0.3 * random.uniform());

describe('answers that may be chance', () => {
  it('changes at any time are hardly ever believed: one clip in a hundred, as the limit says', () => {
    const random = seededRandom(81);
    let believed = 0;
    for (let clip = 0; clip < 300; clip++) {
      const count = 4 + (clip % 12);
      const durationS = 0.7 * count + 1;
      const rateHz = 2 + 12 * random.uniform();
      const changes = Array.from(
        { length: Math.round(rateHz * durationS) },
        () => random.uniform() * durationS,
      );
      changes.sort((a, b) => a - b);
      const chance = chanceOfAnswers(pair(pressesOf(random, count), changes), screenOf(changes), durationS);
      if (chance !== null && chance <= 0.01) believed++;
    }
    // 3 expected of 300 at most; 9 and more would come once in 250 times.
    expect(believed).toBeLessThan(9);
  });

  it.each([
    ['a wait of one refresh, four presses', 4, 0.0167],
    ['a wait of three refreshes, eight presses', 8, 0.05],
    ['a lag that varies by a tenth of a second, twenty presses', 20, 0.1],
  ])('a chain is believed: %s', (_, count, spreadS) => {
    const random = seededRandom(82);
    for (let clip = 0; clip < 50; clip++) {
      const presses = pressesOf(random, count);
      // Each answer goes away again, as a flash does.
      const changes = presses.flatMap((p) => {
        const answerS = p + 0.06 + spreadS * random.uniform();
        return [answerS, answerS + 0.13];
      });
      const { pairing, notes } = judgeByChance(pair(presses, changes), [screenOf(changes)], 0.7 * count + 1);
      expect(notes).toEqual([]);
      expect(pairing.presses.every((p) => p.responses[0]!.flags.length === 0)).toBe(true);
    }
  });

  it('a beat of the display that was taken for answers is none, with a sentence and a reason', () => {
    const changes = Array.from({ length: 58 }, (_, i) => 0.025 + i / 15);
    const presses = [0.411, 1.073, 1.696, 2.173, 2.775, 3.413];
    const { pairing, notes } = judgeByChance(pair(presses, changes), [screenOf(changes)], 4.1);
    expect(pairing.presses.map((p) => p.responses[0]!.flags)).toEqual(presses.map(() => ['chance-answer']));
    expect(pairing.presses.map((p) => p.status)).toEqual(presses.map(() => 'ambiguous'));
    expect(pairing.presses[0]!.reason).toMatch(/no more closely than by chance/);
    expect(notes).toHaveLength(1);
    expect(notes[0]).toMatch(/region screen .* chance/);
  });

  it('two or three answers say nothing either way', () => {
    expect(chanceOfAnswers(pair([1, 2, 3], [1.05, 2.3, 3.1]), screenOf([1.05, 2.3, 3.1]), 4)).toBeNull();
  });

  it('two answers among more changes of their kind that no press explains are flagged, and are not among fewer', () => {
    // A toggle that changes ten times, and a thumb that was taken for the LED three times.
    const changes = [0.78, 1.55, 2.26, 2.83, 3.63, 4.28, 4.98, 5.46, 6.09, 6.8];
    const paired = pair([1.44, 5.21], changes);
    const answered = paired.presses.map((p) => p.responses[0]!.onset!.levelS);
    expect(answered).toEqual([1.55, 5.46]);
    const others = changes.filter((c) => !answered.includes(c));
    const withOthers = (count: number) => ({
      ...paired,
      unprompted: others.slice(0, count).map((c) => ({ region: 'screen', onset: onset(c) })),
    });
    const { pairing, notes } = judgeByChance(withOthers(8), [screenOf(changes)], 7.4);
    expect(pairing.presses.map((p) => p.responses[0]!.flags)).toEqual([['chance-answer'], ['chance-answer']]);
    expect(notes).toEqual([
      expect.stringMatching(/^Of 10 changes of region screen .* 8 come without a press/),
    ]);
    expect(judgeByChance(withOthers(2), [screenOf(changes)], 7.4).notes).toEqual([]);
  });
});
