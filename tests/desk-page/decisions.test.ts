/** Decisions: in the recipe, with a reason, and back again. */
import { describe, expect, it } from 'vitest';
import { deciding, decisionsOn, nextDoubtful, standingOf } from '../../src/desk/page/logic/decisions.js';
import { parseRecipe } from '../../src/record/parseRecipe.js';
import { normalRecord } from '../report/fixtures.js';

const record = normalRecord();
const recipe = { ...record.recipe, decisions: [] };
const [first, second] = record.presses as [(typeof record.presses)[number], (typeof record.presses)[number]];

const standing = (decided: typeof record.recipe) => standingOf(decided, first).status;

describe('decisions', () => {
  it('an exclusion stands at its press, with its reason, and is a valid recipe', () => {
    const decided = deciding(recipe, first.ledOnsetS, 'exclude', '  two buttons  ');
    expect(decided.decisions).toHaveLength(1);
    expect(decisionsOn(decided, first.ledOnsetS).map((d) => d.reason)).toEqual(['two buttons']);
    expect(decisionsOn(decided, second.ledOnsetS)).toEqual([]);
    expect(parseRecipe(JSON.stringify(decided), 'x.json').decisions).toEqual(decided.decisions);
    expect(standingOf(decided, first)).toEqual({ status: 'excluded', reason: 'two buttons' });
  });
  it('restoring has a reason, too, and nothing that was decided is ever deleted', () => {
    const other = deciding(recipe, second.ledOnsetS, 'exclude', 'x');
    const out = deciding(other, first.ledOnsetS, 'exclude', 'a');
    // Even when the onset moved a little.
    const back = deciding(out, first.ledOnsetS + 0.01, 'restore', 'b');
    const outAgain = deciding(back, first.ledOnsetS, 'exclude', 'c');
    expect([out, back, outAgain].map(standing)).toEqual(['excluded', 'measured', 'excluded']);
    expect(standingOf(back, first).reason).toBe('restored: b');
    expect(decisionsOn(outAgain, first.ledOnsetS)).toEqual([
      { pressAtS: out.decisions[0]!.pressAtS, decision: 'exclude', reason: 'a' },
      { pressAtS: out.decisions[0]!.pressAtS, decision: 'restore', reason: 'b' },
      { pressAtS: out.decisions[0]!.pressAtS, decision: 'exclude', reason: 'c' },
    ]);
    expect(decisionsOn(outAgain, second.ledOnsetS)).toHaveLength(1);
    expect(parseRecipe(JSON.stringify(outAgain), 'x.json').decisions).toEqual(outAgain.decisions);
  });
  it('a press restored before the numbers follow says so', () => {
    const excluded = { ...first, status: 'excluded', reason: 'a' } as const;
    expect(standingOf(recipe, excluded).status).toBe('restored');
    const cutOff = { ...excluded, reason: 'the clip ends before a response could be seen' };
    expect(standingOf(recipe, cutOff).status).toBe('excluded');
  });
  it('goes through the doubtful presses and round', () => {
    const plain = record.presses.map((p) => ({
      ...p,
      status: 'measured' as const,
      flags: [],
      responses: p.responses.map((r) => ({ ...r, flags: [] })),
    }));
    const some = plain.map((p) => (p.index === 2 || p.index === 5 ? { ...p, flags: ['odd'] } : p));
    expect(nextDoubtful({ ...record, presses: some }, null)).toBe(2);
    expect(nextDoubtful({ ...record, presses: some }, 2)).toBe(5);
    expect(nextDoubtful({ ...record, presses: some }, 5)).toBe(2);
    expect(nextDoubtful({ ...record, presses: plain }, 1)).toBeNull();
  });
});
