/** What a recipe file decides otherwise than the recipe that a record was measured by. */
import type { Recipe } from '../record/recipe.js';
import type { Region } from '../region/region.js';

/**
 * Keys that differ, for example `display.refreshHz` or `regions.top`. A region that the file leaves open (none of its
 * role is named) is no change, since the measurement then found it; neither are labels that a session table added.
 */
export function recipeChanges(measuredBy: Recipe, file: Recipe): readonly string[] {
  const changes: string[] = [];
  for (const [key, label] of Object.entries(file.labels)) {
    if (measuredBy.labels[key] !== label) changes.push(`labels.${key}`);
  }
  changes.push(...regionChanges(measuredBy.regions, file.regions));
  for (const part of ['capture', 'display', 'cue', 'response'] as const) {
    const before = measuredBy[part] as Readonly<Record<string, unknown>>;
    const after = file[part] as Readonly<Record<string, unknown>>;
    for (const key of new Set([...Object.keys(after), ...Object.keys(before)])) {
      if (!same(before[key], after[key])) changes.push(`${part}.${key}`);
    }
  }
  if (!same(measuredBy.decisions, file.decisions)) changes.push('decisions');
  return changes;
}

/** True where a change can move a number: labels only name things. */
export function movesNumbers(key: string): boolean {
  return !key.startsWith('labels.');
}

function regionChanges(before: readonly Region[], file: readonly Region[]): string[] {
  const named = new Set(file.map((r) => r.name));
  const roles = new Set(file.map((r) => r.role));
  const changed = file.filter((r) => {
    const old = before.find((b) => b.name === r.name);
    return !old || !same(place(old), place(r));
  });
  const gone = before.filter((r) => !named.has(r.name) && (roles.has(r.role) || r.role === 'reference'));
  return [...changed, ...gone].map((r) => `regions.${r.name}`);
}

function place({ role, x, y, width, height }: Region): readonly unknown[] {
  return [role, x, y, width, height];
}

function same(a: unknown, b: unknown): boolean {
  return JSON.stringify(a) === JSON.stringify(b);
}
