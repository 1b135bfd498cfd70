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

/** What the light of one region says. */
export interface LightEvidence extends Pick<RegionEvidence, 'rippleHz' | 'rippleDepth' | 'shakePx'> {
  /** Of the region's cells, times `LIGHT_SCALE`; one value a frame. */
  readonly meanLight: Float64Array;
}

/**
 * Evidence of the regions that have changes, in their order. Shake and ripple are looked for in frames in which none of
 * them changes. Pure.
 */
export function lightEvidence(
  samples: ClipSamples,
  sets: readonly OnsetSet[],
  { capturedAtS, captureRateHz }: Pick<CaptureClock, 'capturedAtS' | 'captureRateHz'>,
): LightEvidence[] {
  const quiet = quietFrames(sets, capturedAtS);
  return sets.map((set) => {
    const region = samples.regions.find((r) => r.region.name === set.region.name)!;
    const meanLight = meanLightOf(region, samples.frames);
    const ripple = rippleOf(meanLight, quiet, captureRateHz);
    return {
      meanLight,
      rippleHz: ripple?.seenHz ?? null,
      rippleDepth: ripple?.depth ?? null,
      shakePx: shakeOf(region, meanLight, quiet),
    };
  });
}

/**
 * The same as it stands in the record.
 * @param contrast median contrast of the changes that count; null where there are none.
 * @param clippedShare share of its cells that clip and were left out.
 */
export function regionEvidence(
  { rippleHz, rippleDepth, shakePx }: LightEvidence,
  contrast: number | null,
  clippedShare: number,
): RegionEvidence {
  return {
    // A simulated light without any noise has no contrast to speak of.
    contrast: contrast !== null && Number.isFinite(contrast) ? contrast : null,
    ...{ rippleHz, rippleDepth, shakePx, clippedShare },
  };
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
