/** Where to look in a clip: the regions of its recipe, those that it leaves open, and whether they fit the picture. */
import { type ClipFacts, type FrameSource, uprightSize } from './clip/frameSource.js';
import { decideRate } from './clip/rateDecision.js';
import { rateUnknown } from './clipOnsets.js';
import { UsageError } from './errors.js';
import type { Recipe } from './record/recipe.js';
import { type CompletedRegions, completeRegions } from './region/completeRegions.js';
import { findRegions } from './region/findRegions.js';
import { checkRegion } from './region/geometry.js';
import type { Region } from './region/region.js';

/** How to look for what a recipe leaves open. */
export interface FindMissingOptions {
  readonly signal?: AbortSignal;
  /** Frames done, and to do (null where the clip does not say). */
  readonly onProgress?: (progress: {
    readonly stage: 'finding regions';
    readonly framesDone: number;
    readonly framesTotal: number | null;
  }) => void;
}

/** Whether a recipe names a region of a role. */
export function hasRole(recipe: Recipe, role: Region['role']): boolean {
  return recipe.regions.some((r) => r.role === role);
}

/**
 * Refuses places that are not in the picture, and regions that cannot be told apart.
 * @throws UsageError: one sentence.
 */
export function checkPlaces({ regions, display: { scan } }: Recipe, facts: ClipFacts): void {
  for (const region of regions) checkRegion(region, facts);
  checkNames(regions);
  const { height } = uprightSize(facts);
  if (scan === undefined || scan.bottomPx <= height) return;
  throw new UsageError(
    `the display's scan ends at row ${scan.bottomPx}, and the picture of ${facts.file} has ${height} rows: give the rows of the upright picture`,
  );
}

function checkNames(regions: readonly Region[]): void {
  const names = new Set<string>();
  for (const { name } of regions) {
    if (names.has(name)) throw new UsageError(`two regions are called "${name}": give each its own name`);
    names.add(name);
  }
  const leds = regions.filter((r) => r.role === 'led');
  if (leds.length > 1) throw new UsageError(`${leds.length} regions have the role led: keep one`);
}

/**
 * Finds what the recipe leaves open; what it names stays.
 * @throws AnalysisError `rate-unknown`, `nothing-measurable` where there is still no LED or no screen.
 */
export async function findMissingRegions(
  source: FrameSource,
  recipe: Recipe,
  { signal, onProgress }: FindMissingOptions = {},
): Promise<CompletedRegions> {
  const rateHz = likelyRateHz(source, recipe);
  const found = await findRegions(source, {
    rateHz,
    ...(signal ? { signal } : {}),
    onProgress: (framesDone) =>
      onProgress?.({ stage: 'finding regions', framesDone, framesTotal: source.facts.declaredFrames }),
  });
  return completeRegions(recipe.regions, found, recipe.cue.edge, source.facts.file);
}

/** The capture rate before any frame is read, for the search only; the clock proper needs every timestamp. */
function likelyRateHz({ facts }: FrameSource, recipe: Recipe): number {
  const mediaRateHz = facts.nominalRateHz ?? 30;
  const decision = decideRate(mediaRateHz, facts.captureRateTagHz, recipe.capture.rateHz);
  if (decision.scale === null) throw rateUnknown(facts, decision.reason);
  return mediaRateHz / decision.scale;
}
