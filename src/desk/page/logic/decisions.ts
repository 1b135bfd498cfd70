/** A person's decisions on presses, in the recipe and nowhere else. */
import type { Decision, Recipe } from '../../../record/recipe.js';
import type { ClipRecord, PressRecord } from '../../../record/record.js';

/** A decision belongs to a press this near, s (the recipe's rule). */
const REACH_S = 0.05;

/** Reasons that come up again and again; any other can be written. */
export const USUAL_REASONS: readonly string[] = [
  'two buttons at once',
  'the hand covered the LED',
  'the screen changed by itself',
  'the camera was touched',
];

/** The same for taking an exclusion back. */
export const USUAL_REASONS_BACK: readonly string[] = ['excluded by mistake', 'looked at again: it is sound'];

/** What the library says of a press that nobody excluded. */
const CLIP_ENDS = /^the (clip ends|recording pauses) /;

/** All decisions on the press at a time, the oldest first; the last one holds. */
export function decisionsOn(recipe: Recipe, pressAtS: number): readonly Decision[] {
  return recipe.decisions.filter((d) => Math.abs(d.pressAtS - pressAtS) <= REACH_S);
}

/** Excludes or restores a press for a reason. Nothing is taken out of the recipe: what was decided before stays there. */
export function deciding(
  recipe: Recipe,
  pressAtS: number,
  decision: Decision['decision'],
  reason: string,
): Recipe {
  const { decisions } = recipe;
  const last = decisionsOn(recipe, pressAtS).at(-1);
  const made: Decision = {
    // Six decimals are a microsecond: enough to find the press again, and short to read.
    pressAtS: last?.pressAtS ?? Math.round(pressAtS * 1e6) / 1e6,
    decision,
    reason: reason.trim(),
  };
  // Beside its like, so that the list reads along the clip; whatever order it was in stays.
  const later = decisions.findIndex((d) => d.pressAtS > made.pressAtS);
  const at = last ? decisions.indexOf(last) + 1 : later < 0 ? decisions.length : later;
  return { ...recipe, decisions: [...decisions.slice(0, at), made, ...decisions.slice(at)] };
}

/** What became of a press, the recipe's decisions first: they hold at once, before the numbers follow. */
export function standingOf(recipe: Recipe, press: PressRecord): { status: string; reason: string | null } {
  const last = decisionsOn(recipe, press.ledOnsetS).at(-1);
  if (last?.decision === 'exclude') return { status: 'excluded', reason: last.reason };
  // Undone, or restored, and the numbers are still on their way.
  const isBehind = press.status === 'excluded' && !CLIP_ENDS.test(press.reason ?? '');
  if (isBehind) return { status: 'restored', reason: last?.reason ?? null };
  return { status: press.status, reason: press.reason ?? (last ? `restored: ${last.reason}` : null) };
}

/** The next press that wants a look: not measured, or with flags; from `after` on and round; null where none does. */
export function nextDoubtful(record: ClipRecord, after: number | null): number | null {
  const doubtful = record.presses.filter(
    (p) =>
      p.status === 'ambiguous' ||
      p.status === 'no-response' ||
      p.flags.length > 0 ||
      p.responses.some((r) => r.flags.length > 0),
  );
  return (doubtful.find((p) => p.index > (after ?? 0)) ?? doubtful[0])?.index ?? null;
}
