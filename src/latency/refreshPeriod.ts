/** The display's refresh: stated by the user, or read off the lattice on which the responses fall. */
import type { OnsetSet } from '../onset/onset.js';
import type { RefreshPeriod } from './summarise.js';

/** Period of the wait, ms, with its source. */
export function refreshPeriod(statedHz: number | null, _screens: readonly OnsetSet[]): RefreshPeriod {
  if (statedHz !== null) return { periodMs: 1000 / statedHz, source: 'stated' };
  return { periodMs: null, source: 'none' };
}
