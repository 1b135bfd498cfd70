/** Decisions: in the recipe, with a reason, and back again. */
import { describe, expect, it } from 'vitest';
import {
  decisionOn,
  excluding,
  nextDoubtful,
  restoring,
  standingOf,
} from '../../src/desk/page/logic/decisions.js';
import { parseRecipe } from '../../src/record/parseRecipe.js';
import { normalRecord } from '../report/fixtures.js';

const record = normalRecord();
const recipe = { ...record.recipe, decisions: [] };
const [first, second] = record.presses as [(typeof record.presses)[number], (typeof record.presses)[number]];

describe('decisions', () => {
  it('an exclusion stands at its press, with its reason, and is a valid recipe', () => {
    const decided = excluding(recipe, first.ledOnsetS, '  two buttons  ');
    expect(decided.decisions).toHaveLength(1);
    expect(decisionOn(decided, first.ledOnsetS)?.reason).toBe('two buttons');
    expect(decisionOn(decided, second.ledOnsetS)).toBeNull();
    expect(parseRecipe(JSON.stringify(decided), 'x.json').decisions).toEqual(decided.decisions);
    expect(standingOf(decided, first)).toEqual({ status: 'excluded', reason: 'two buttons' });
  });
  it('another reason takes the place of the first, even when the onset moved a little', () => {
    const once = excluding(recipe, first.ledOnsetS, 'a');
    const twice = excluding(once, first.ledOnsetS + 0.01, 'b');
    expect(twice.decisions).toEqual([{ ...once.decisions[0], reason: 'b' }]);
  });
  it('restoring gives the recipe back', () => {
    const both = excluding(excluding(recipe, second.ledOnsetS, 'b'), first.ledOnsetS, 'a');
    expect(both.decisions.map((d) => d.reason)).toEqual(['a', 'b']);
    expect(restoring(restoring(both, first.ledOnsetS), second.ledOnsetS)).toEqual(recipe);
    expect(restoring(recipe, first.ledOnsetS)).toBe(recipe);
  });
  it('a press restored before the numbers follow says so', () => {
    const excluded = { ...first, status: 'excluded', reason: 'a' } as const;
    expect(standingOf(recipe, excluded).status).toBe('restored');
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
