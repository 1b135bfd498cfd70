/** Undo and redo: a line of states with a place in it. Nothing is ever changed, only walked along. */

/** States before, now and after, newest of `past` last, next of `future` first. */
export interface History<T> {
  readonly past: readonly T[];
  readonly present: T;
  readonly future: readonly T[];
  /** What the last change was; a change with the same mark is taken as part of it. */
  readonly mark: string | null;
}

/** More steps than this are forgotten, oldest first. */
export const LONGEST_HISTORY = 200;

/** A history that begins here. */
export function beginHistory<T>(present: T): History<T> {
  return { past: [], present, future: [], mark: null };
}

/**
 * The present becomes past, and `next` the present; what was undone is gone.
 * @param mark changes that follow each other under one mark (a region pushed along by arrow keys) are one step.
 */
export function changed<T>(history: History<T>, next: T, mark: string | null = null): History<T> {
  if (mark !== null && mark === history.mark && history.past.length > 0) {
    return { ...history, present: next, future: [] };
  }
  return {
    past: [...history.past, history.present].slice(-LONGEST_HISTORY),
    present: next,
    future: [],
    mark,
  };
}

/** One step back; the same history where there is none. */
export function undone<T>(history: History<T>): History<T> {
  const before = history.past.at(-1);
  if (history.past.length === 0) return history;
  return {
    past: history.past.slice(0, -1),
    present: before as T,
    future: [history.present, ...history.future],
    mark: null,
  };
}

/** One step forward again; the same history where there is none. */
export function redone<T>(history: History<T>): History<T> {
  if (history.future.length === 0) return history;
  return {
    past: [...history.past, history.present],
    present: history.future[0] as T,
    future: history.future.slice(1),
    mark: null,
  };
}
