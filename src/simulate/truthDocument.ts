/** The truth about a simulated clip as a JSON document that lies beside it. */

import type { Scene } from './scene.js';
import { type SceneRegions, sceneRegions } from './sceneRegions.js';
import type { ScheduledChange, ScheduledPress } from './schedule.js';
import { latencyTruthMs, responseTruth, sceneTruth } from './truth.js';

/** One press and its response in the screen region of `sceneRegions`; times in s on the capture clock. */
export interface TruthPress extends ScheduledPress {
  readonly firstLightS: number | null;
  readonly onsetS: number | null;
  readonly halfS: number | null;
  readonly settledS: number | null;
  /** At 10 %. */
  readonly latencyMs: number | null;
}

/** `NAME.truth.json`. */
export interface TruthDocument {
  readonly format: 'lagreel-truth';
  readonly version: 1;
  /** The clip that it belongs to; null before it is written. */
  readonly clip: { readonly file: string; readonly bytes: number; readonly sha256: string } | null;
  readonly regions: SceneRegions;
  readonly presses: readonly TruthPress[];
  readonly unprompted: readonly ScheduledChange[];
  /** Everything that the clip was made from. */
  readonly scene: Scene;
}

/** The document of a scene; `clip` is filled in by whoever writes the file. */
export function truthDocument(scene: Scene, clip: TruthDocument['clip'] = null): TruthDocument {
  const { presses, changes } = sceneTruth(scene);
  const regions = sceneRegions(scene);
  const at = (level: 'first-light' | number): (number | null)[] =>
    responseTruth(scene, regions.screen, level);
  const [first, onset, half, settled] = [at('first-light'), at(0.1), at(0.5), at(0.9)];
  const latency = latencyTruthMs(scene, regions.screen, 0.1);
  return {
    format: 'lagreel-truth',
    version: 1,
    clip,
    regions,
    presses: presses.map((press, i) => ({
      ...press,
      firstLightS: first[i]!,
      onsetS: onset[i]!,
      halfS: half[i]!,
      settledS: settled[i]!,
      latencyMs: latency[i]!,
    })),
    unprompted: changes.filter((change) => change.cause === 'unprompted'),
    scene,
  };
}
