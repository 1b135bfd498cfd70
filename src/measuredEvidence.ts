/** What a clip's light itself says about how well it can be measured: contrast, ripple, shake, clipping, by region. */
import type { CaptureClock } from './clip/captureClock.js';
import type { OnsetSet } from './onset/onset.js';
import type { RegionEvidence } from './record/record.js';
import type { ClipSamples } from './samples/samples.js';
import { meanLightOf } from './trace/meanLight.js';
import { rippleOf } from './trace/regularRipple.js';
import { shakeOf } from './trace/shake.js';

/** How long before the first and after the last light of a change the picture is not called quiet, s. */
const BEFORE_S = 0.02;
const AFTER_S = 0.06;

/** A region's changes, and the median contrast of those that count; null where there are none. */
export interface RegionChanges {
  readonly set: OnsetSet;
  readonly contrast: number | null;
  /** Share of its cells that clip and were left out. */
  readonly clippedShare: number;
}

/**
 * Evidence of the regions that have changes, by name. Shake and ripple are looked for in frames in which none of them
 * changes. Pure.
 */
export function measuredEvidence(
  samples: ClipSamples,
  changes: readonly RegionChanges[],
  { capturedAtS, captureRateHz }: Pick<CaptureClock, 'capturedAtS' | 'captureRateHz'>,
): Readonly<Record<string, RegionEvidence>> {
  const quiet = quietFrames(
    changes.map((c) => c.set),
    capturedAtS,
  );
  const entries = changes.map(({ set, contrast, clippedShare }): [string, RegionEvidence] => {
    const { name } = set.region;
    const region = samples.regions.find((r) => r.region.name === name)!;
    const light = meanLightOf(region, samples.frames);
    const ripple = rippleOf(light, quiet, captureRateHz);
    return [
      name,
      {
        // A simulated light without any noise has no contrast to speak of.
        contrast: contrast !== null && Number.isFinite(contrast) ? contrast : null,
        rippleHz: ripple?.seenHz ?? null,
        rippleDepth: ripple?.depth ?? null,
        shakePx: shakeOf(region, light, quiet),
        clippedShare,
      },
    ];
  });
  return Object.fromEntries(entries);
}

function quietFrames(sets: readonly OnsetSet[], capturedAtS: Float64Array): Uint8Array {
  const quiet = new Uint8Array(capturedAtS.length).fill(1);
  for (const { onsets } of sets) {
    for (const { firstLightS, levelS, settledS } of onsets) {
      const fromS = Math.min(firstLightS, levelS) - BEFORE_S;
      const toS = Math.max(settledS, levelS) + AFTER_S;
      for (let k = 0; k < quiet.length && capturedAtS[k]! <= toS; k++) {
        if (capturedAtS[k]! >= fromS) quiet[k] = 0;
      }
    }
  }
  return quiet;
}
