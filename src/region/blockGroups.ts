/** Blocks of a shrunken clip in groups that change alike. */
import { ACTIVE_CODES, type BlockContrasts, dot, norm, type Overview } from './activity.js';

/** Cosine of two blocks' changes from which on they are of one patch. */
const TOGETHER = 0.55;
/** A thumb that covers a light is no larger than this, as a share of the picture. */
const COVERING_LARGEST_SHARE = 0.06;
const COVERED_LEAST_BLOCKS = 3;

/**
 * Parts of a patch that change while the patch as a whole does not: a light under a thumb that passes changes with the
 * thumb and by itself, and the thumb is the larger.
 * @param events frames at which the patch as a whole changes.
 * @param reach frames before and after them that are left out.
 * @returns the parts, and their blocks' contrasts without what is left out.
 */
export function coveredParts(
  group: readonly number[],
  events: readonly number[],
  reach: number,
  series: BlockContrasts,
  { columns, rows, frames }: Overview,
): { readonly parts: readonly (readonly number[])[]; readonly besides: BlockContrasts } {
  const besides = new Map<number, Float32Array>();
  if (group.length <= COVERED_LEAST_BLOCKS || group.length > COVERING_LARGEST_SHARE * columns * rows)
    return { parts: [], besides };
  for (const b of group) {
    const own = series.get(b)!.slice();
    for (const k of events) own.fill(0, Math.max(0, k - reach), Math.min(frames, k + reach + 1));
    if (own.some((v) => Math.abs(v) > ACTIVE_CODES)) besides.set(b, own);
  }
  const parts = groupsOf(besides, columns).filter((part) => part.length >= COVERED_LEAST_BLOCKS);
  return { parts, besides };
}

/** Neighbouring blocks whose changes are alike, in groups. */
export function groupsOf(series: BlockContrasts, columns: number): number[][] {
  const norms = new Map(Array.from(series, ([b, own]) => [b, norm(own)]));
  const parent = new Map<number, number>();
  const find = (b: number): number => {
    let root = b;
    while (parent.get(root) !== root) root = parent.get(root)!;
    parent.set(b, root);
    return root;
  };
  for (const b of series.keys()) parent.set(b, b);
  for (const b of series.keys()) {
    const x = b % columns;
    // Right, below, and both diagonals; two blocks apart too, so that a still line does not split a sprite.
    const neighbours = [
      x + 1 < columns ? b + 1 : -1,
      b + columns,
      x + 1 < columns ? b + columns + 1 : -1,
      x > 0 ? b + columns - 1 : -1,
      x + 2 < columns ? b + 2 : -1,
      b + 2 * columns,
    ];
    for (const other of neighbours) {
      const theirs = series.get(other);
      if (!theirs || find(b) === find(other)) continue;
      const likeness = Math.abs(dot(series.get(b)!, theirs)) / (norms.get(b)! * norms.get(other)!);
      if (likeness > TOGETHER) parent.set(find(other), find(b));
    }
  }
  const groups = new Map<number, number[]>();
  for (const b of series.keys()) {
    const root = find(b);
    const group = groups.get(root);
    if (group) group.push(b);
    else groups.set(root, [b]);
  }
  return [...groups.values()];
}
