/** Random scenes that nothing was tuned on: the raw material of the accuracy table. */
import { measureClip } from '../../src/measure.js';
import { emptyRecipe } from '../../src/record/parseRecipe.js';
import type { Recipe } from '../../src/record/recipe.js';
import type { ClipRecord } from '../../src/record/record.js';
import type { Region } from '../../src/region/region.js';
import { randomScene } from '../../src/simulate/randomScene.js';
import { simulateSource } from '../../src/simulate/renderSource.js';
import type { Scene } from '../../src/simulate/scene.js';
import type { SceneOptions } from '../../src/simulate/sceneOptions.js';
import { sceneRegions } from '../../src/simulate/sceneRegions.js';
import { latencyTruthMs } from '../../src/simulate/truth.js';

/** One press: error of the latency and what was claimed. */
export interface PressError {
  /** Measured less true, ms. */
  readonly errorMs: number;
  readonly uncertaintyMs: number;
  readonly covered: boolean;
  readonly flagged: boolean;
}

/** One clip, measured and compared with its truth. */
export interface ClipError {
  readonly scene: Scene;
  readonly record: ClipRecord;
  readonly periodMs: number;
  readonly presses: readonly PressError[];
  readonly missed: number;
  readonly invented: number;
  /** Fixed delay of the region: truth of the chain plus the region's own time after the first line, ms. */
  readonly trueFixedDelayMs: number;
}

/** What the measurement is told. */
export interface Told {
  readonly readout: boolean;
  readonly refresh: boolean;
  readonly exposure: boolean;
}

/** Measures a scene in memory, with regions drawn as a person would, and compares every press with the truth. */
export async function measureScene(scene: Scene, told: Told): Promise<ClipError> {
  const source = simulateSource(scene);
  const regions = sceneRegions(scene);
  const screen: Region = { name: 'screen', role: 'screen', ...regions.screen };
  const recipe: Recipe = {
    ...emptyRecipe({ file: source.facts.file, sha256: source.facts.sha256, bytes: source.facts.bytes }),
    regions: [{ name: 'led', role: 'led', ...regions.led }, screen],
    capture: {
      rateHz: scene.camera.captureRateHz < 45 ? scene.camera.captureRateHz : null,
      exposureFraction: told.exposure ? scene.camera.exposureFraction : null,
      readoutFraction: told.readout ? scene.camera.readoutFraction : null,
    },
    display: { refreshHz: told.refresh ? scene.screen.refreshHz : null },
    cue: {
      edge: scene.led.edge === 'lights-on-press' ? 'press' : 'release',
      delayMs: 0,
      delayUncertaintyMs: 0,
    },
  };
  const { record } = await measureClip(source, recipe);
  const truthMs = latencyTruthMs(scene, screen, recipe.response.level);
  const periodMs = 1000 / scene.camera.captureRateHz;
  const presses: PressError[] = [];
  let missed = 0;
  const used = new Set<number>();
  const truePresses = source.truth.presses;
  truePresses.forEach((press, i) => {
    const trueMs = truthMs[i];
    if (trueMs === null || trueMs === undefined) return;
    const found = record.presses.find((p) => Math.abs(p.ledOnsetS - press.pressS) < 2.5 * (periodMs / 1000));
    const response = found?.responses[0];
    if (!found || response?.latencyMs === undefined || found.status !== 'measured') {
      missed++;
      return;
    }
    used.add(found.index);
    const [low, high] = response.intervalMs!;
    presses.push({
      errorMs: response.latencyMs - trueMs,
      uncertaintyMs: response.uncertaintyMs!,
      covered: low <= trueMs && trueMs <= high,
      flagged: response.flags.length > 0 || found.flags.length > 0,
    });
  });
  const answered = truePresses.findIndex((_, i) => typeof truthMs[i] === 'number');
  const first = truePresses[answered];
  // latency = wait + extra + fixed delay + region's own part, so the rest of a press is fixed delay and region.
  const trueFixedDelayMs = first
    ? truthMs[answered]! - (first.waitMs ?? 0) - (first.extraMs ?? 0)
    : Number.NaN;
  return {
    scene,
    record,
    periodMs,
    presses,
    missed,
    invented: record.presses.filter((p) => p.status === 'measured' && !used.has(p.index)).length,
    trueFixedDelayMs,
  };
}

/** A held-out scene: small, of the given kind of difficulty. */
export function heldOutScene(seed: number, options: SceneOptions): Scene {
  return randomScene(seed, { widthPx: 320, heightPx: 180, ...options });
}
