/** Undo and redo walk along what was done, and nothing is lost on the way. */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { beginHistory, changed, LONGEST_HISTORY, redone, undone } from '../../src/desk/page/logic/history.js';

describe('history', () => {
  it('back and forth', () => {
    const three = changed(changed(beginHistory('a'), 'b'), 'c');
    expect(undone(three).present).toBe('b');
    expect(undone(undone(three)).present).toBe('a');
    expect(undone(undone(undone(three)))).toEqual(undone(undone(three)));
    expect(redone(undone(three)).present).toBe('c');
    expect(redone(three)).toBe(three);
  });
  it('a change after undo forgets what was undone', () => {
    const forked = changed(undone(changed(beginHistory(1), 2)), 3);
    expect(redone(forked)).toBe(forked);
    expect(undone(forked).present).toBe(1);
  });
  it('changes under one mark are one step, others are not', () => {
    const pushed = changed(changed(changed(beginHistory(0), 1, 'keys 1'), 2, 'keys 1'), 3, 'keys 2');
    expect(undone(pushed).present).toBe(2);
    expect(undone(undone(pushed)).present).toBe(0);
    // After an undo the same mark begins a new step.
    const again = changed(undone(pushed), 9, 'keys 1');
    expect(undone(again).present).toBe(2);
  });
  it('undo all, redo all: the same', () => {
    fc.assert(
      fc.property(fc.array(fc.integer(), { maxLength: 40 }), (values) => {
        let history = beginHistory(-1);
        for (const value of values) history = changed(history, value);
        const end = history.present;
        for (const _ of values) history = undone(history);
        expect(history.present).toBe(-1);
        for (const _ of values) history = redone(history);
        expect(history.present).toBe(end);
      }),
    );
  });
  it('the oldest steps are forgotten', () => {
    let history = beginHistory(0);
    for (let i = 1; i <= LONGEST_HISTORY + 10; i++) history = changed(history, i);
    expect(history.past.length).toBe(LONGEST_HISTORY);
    expect(history.past[0]).toBe(10);
  });
});
