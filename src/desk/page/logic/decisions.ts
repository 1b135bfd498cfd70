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

/** The decision on the press at a time; null where there is none. */
export function decisionOn(recipe: Recipe, pressAtS: number): Decision | null {
  const near = recipe.decisions
    .filter((d) => Math.abs(d.pressAtS - pressAtS) <= REACH_S)
    .sort((a, b) => Math.abs(a.pressAtS - pressAtS) - Math.abs(b.pressAtS - pressAtS));
  return near[0] ?? null;
}

/** Excludes a press for a reason; another reason takes the place of an earlier one. */
export function excluding(recipe: Recipe, pressAtS: number, reason: string): Recipe {
  const earlier = decisionOn(recipe, pressAtS);
  const decision: Decision = {
    // Six decimals are a microsecond: enough to find the press again, and short to read.
    pressAtS: earlier?.pressAtS ?? Math.round(pressAtS * 1e6) / 1e6,
    decision: 'exclude',
    reason: reason.trim(),
  };
  const decisions = [...recipe.decisions.filter((d) => d !== earlier), decision];
  return { ...recipe, decisions: decisions.sort((a, b) => a.pressAtS - b.pressAtS) };
}

/** Takes an exclusion back. */
export function restoring(recipe: Recipe, pressAtS: number): Recipe {
  const earlier = decisionOn(recipe, pressAtS);
  return earlier === null ? recipe : { ...recipe, decisions: recipe.decisions.filter((d) => d !== earlier) };
}

/** What became of a press, the recipe's decisions first: they hold at once, before the numbers follow. */
export function standingOf(recipe: Recipe, press: PressRecord): { status: string; reason: string | null } {
  const decision = decisionOn(recipe, press.ledOnsetS);
  if (decision !== null) return { status: 'excluded', reason: decision.reason };
  if (press.status !== 'excluded') return { status: press.status, reason: press.reason ?? null };
  return { status: 'restored', reason: null };
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
