/** What a person named, and what was found for the rest. */
import { AnalysisError } from '../errors.js';
import type { FoundRegions } from './findRegions.js';
import type { Region } from './region.js';

/** Regions to measure. */
export interface CompletedRegions {
  readonly regions: readonly Region[];
  /** Sentences on what was found. */
  readonly notes: readonly string[];
  /** True where what was found should be looked at before it is believed. */
  readonly unsure: boolean;
  /** Which LED edge is the press. */
  readonly edge: 'press' | 'release';
}

/**
 * Adds found regions of the roles that nobody named.
 * @param given regions that a person named; they stay.
 * @param edge which LED edge the recipe calls the press; a light that was found with certainty knows better.
 * @throws AnalysisError `nothing-measurable` where there is still no LED or no screen.
 */
export function completeRegions(
  given: readonly Region[],
  found: FoundRegions,
  edge: 'press' | 'release',
  file: string,
): CompletedRegions {
  const taken = new Set(given.map((r) => r.role));
  const regions = [...given, ...found.regions.filter((r) => !taken.has(r.role))];
  if (!regions.some((r) => r.role === 'led') || !regions.some((r) => r.role === 'screen')) {
    throw new AnalysisError(
      'nothing-measurable',
      `no LED and screen could be found in ${file}: ${found.notes.join(' ') || 'nothing suitable changes'} ` +
        'Name them with --region led=led:x,y,width,height --region top=screen:x,y,width,height',
    );
  }
  const notes = [...found.notes];
  if (found.unsure) {
    notes.push(
      'The regions were found without certainty: look at the overview picture, and set them with --region name=role:x,y,width,height if they are wrong.',
    );
  }
  const foundEdge = taken.has('led') || found.unsure ? edge : found.edge;
  if (foundEdge !== edge) {
    notes.push(
      foundEdge === 'release'
        ? 'The LED goes out when the button is pressed: its going out was taken as the press.'
        : 'The LED lights up when the button is pressed: its lighting was taken as the press.',
    );
  }
  return { regions, notes, unsure: found.unsure, edge: foundEdge };
}
