/** A recipe as it is measured in a folder with a session table. */
import type { Recipe } from './recipe.js';
import type { SessionClip } from './session.js';

/** A recipe with the labels of the session table over its own; regions that the recipe does not name yet get theirs in `compare`. */
export function withSession(recipe: Recipe, row: SessionClip | undefined): Recipe {
  if (!row) return recipe;
  return {
    ...recipe,
    labels: { ...recipe.labels, ...row.labels },
    regions: recipe.regions.map((region) => {
      const own = row.regionLabels[region.name];
      return own ? { ...region, labels: { ...region.labels, ...own } } : region;
    }),
  };
}
