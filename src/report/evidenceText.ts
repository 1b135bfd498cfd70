/** What a region's light says about how well it can be measured, in words. */
import type { RegionEvidence } from '../record/record.js';
import { fixed } from './numberText.js';

/** Beyond this the noise of a frame is what lossy coding left of it, and the ratio says no more. */
const MUCH = 1000;

/** One line: contrast, shake, ripple, clipping; what could not be told is said. Pure. */
export function evidenceText(e: RegionEvidence): string {
  const percent = (share: number): string => `${fixed(100 * share, share < 0.1 ? 1 : 0)} %`;
  const contrast =
    e.contrast === null
      ? 'no change seen'
      : `changes ${e.contrast > MUCH ? `more than ${MUCH}` : fixed(e.contrast, 0)} times the noise of a frame`;
  const shake = e.shakePx === null ? 'shake not measurable' : `moves by ${fixed(e.shakePx, 1)} px (RMS)`;
  const ripple =
    e.rippleHz === null || e.rippleDepth === null
      ? 'no regular ripple'
      : `ripples by ${percent(e.rippleDepth)}, seen at ${fixed(e.rippleHz, 0)} Hz`;
  return `${contrast}; ${shake}; ${ripple}; ${percent(e.clippedShare)} clipped`;
}
