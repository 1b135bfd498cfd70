/** Frames of still pictures between the changes of a light that comes in pulses. */
import type { StateSpan } from './pulseStates.js';
import type { Crossing } from './windows.js';

// Cells of a backlit display have settled after this long (common practice, no source), s.
const CELLS_SETTLE_S = 0.02;

/** Changes of all kinds in time order. */
export function inOrder(crossings: readonly Crossing[], others: readonly Crossing[]): readonly Crossing[] {
  return others.length === 0 ? crossings : [...crossings, ...others].sort((a, b) => a.frame - b.frame);
}

/**
 * Frames that cells are given to settle, where the picture stays for so long.
 * @param all changes of all kinds in time order.
 * @param windowFrames camera frames of about one refresh.
 */
export function settlingFrames(all: readonly Crossing[], periodS: number, windowFrames: number): number {
  const stays = all.slice(1).map((c, i) => c.frame - all[i]!.frame);
  const usual = stays.sort((a, b) => a - b)[stays.length >> 3] ?? 0;
  const wanted = Math.ceil(CELLS_SETTLE_S / periodS);
  return Math.max(Math.min(windowFrames, usual >> 2), Math.min(wanted, (usual >> 1) - windowFrames - 2));
}

/** Frames between a change of one sign and the next change, less one refresh at each end. */
export function stateSpans(
  crossings: readonly Crossing[],
  frames: number,
  windowFrames: number,
  sign: 1 | -1,
): StateSpan[] {
  const spans: { readonly span: StateSpan; readonly isCertain: boolean }[] = [];
  crossings.forEach((crossing, i) => {
    const next = crossings[i + 1]?.frame ?? frames;
    // Between two changes that go the same way there was another that was not found, or one of them is none (a step of the
    // exposure): no telling which picture it is.
    const isCertain = crossings[i + 1]?.sign !== crossing.sign;
    if (i === 0 && crossing.sign !== sign) {
      const first: StateSpan = [
        Math.max(0, crossing.frame - 12 * windowFrames),
        crossing.frame - windowFrames,
      ];
      spans.push({ span: first, isCertain: true });
    }
    if (crossing.sign !== sign) return;
    const from = crossing.frame + windowFrames + 1;
    const to = Math.min(next - windowFrames, from + 24 * windowFrames, frames);
    spans.push({ span: [from, to], isCertain });
  });
  const some = spans.filter(({ span: [from, to] }) => to > from);
  const certain = some.filter((s) => s.isCertain);
  return (2 * certain.length >= some.length ? certain : some).map((s) => s.span);
}

/** Frames of the pictures right before and right after changes of one kind. */
export function spansBeside(
  crossings: readonly Crossing[],
  all: readonly Crossing[],
  frames: number,
  windowFrames: number,
): { readonly bright: StateSpan[]; readonly dim: StateSpan[] } {
  const bright: StateSpan[] = [];
  const dim: StateSpan[] = [];
  for (const crossing of crossings) {
    const i = all.indexOf(crossing);
    const { frame, sign } = crossing;
    const previous = all[i - 1]?.frame ?? -windowFrames;
    const next = all[i + 1]?.frame ?? frames + windowFrames;
    const before: StateSpan = [
      Math.max(previous + windowFrames + 1, frame - 24 * windowFrames, 0),
      frame - windowFrames,
    ];
    const after: StateSpan = [
      frame + windowFrames + 1,
      Math.min(next - windowFrames, frame + 24 * windowFrames, frames),
    ];
    (sign > 0 ? dim : bright).push(before);
    (sign > 0 ? bright : dim).push(after);
  }
  const isSpan = ([from, to]: StateSpan) => to > from;
  return { bright: bright.filter(isSpan), dim: dim.filter(isSpan) };
}
