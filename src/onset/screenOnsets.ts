/** Onsets of the screen regions at a response level, from what was found before any level. */
import { gatedOnsets } from './gatedOnsets.js';
import { heldOnsets } from './heldOnsets.js';
import type { OnsetSet } from './onset.js';
import { pulsedOnsets } from './pulsedOnsets.js';
import type { ScreenTimes } from './screenTimes.js';

/**
 * One set a region. Pure, and fast.
 * @param level response level of the headline onset, 0..1.
 */
export function screenOnsets(times: ScreenTimes | null, level: number): OnsetSet[] {
  if (times === null) return [];
  if (times.light === 'held') return heldOnsets(times, level);
  return times.light === 'gated' ? gatedOnsets(times, level) : pulsedOnsets(times, level);
}
