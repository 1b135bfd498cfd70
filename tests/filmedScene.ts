/** A small simulated clip, sampled once, with the recipe a person would write and the truth about it. */
import type { ClipFacts, FrameTimes } from '../src/clip/frameSource.js';
import type { Recipe } from '../src/record/recipe.js';
import type { Region } from '../src/region/region.js';
import { sampleClip } from '../src/samples/sampleClip.js';
import type { ClipSamples } from '../src/samples/samples.js';
import { randomScene, withLengthOf } from '../src/simulate/randomScene.js';
import { type SimulatedSource, simulateSource } from '../src/simulate/renderSource.js';
import type { Scene } from '../src/simulate/scene.js';
import type { SceneOptions } from '../src/simulate/sceneOptions.js';
import { sceneRegions } from '../src/simulate/sceneRegions.js';
import { latencyTruthMs } from '../src/simulate/truth.js';

export interface FilmedScene {
  readonly scene: Scene;
  readonly source: SimulatedSource;
  readonly recipe: Recipe;
  readonly samples: ClipSamples;
  readonly times: FrameTimes;
  readonly facts: ClipFacts;
  /** Latency of each press at the recipe's level, ms; null where the chain ignored it. */
  readonly truthMs: readonly (number | null)[];
  readonly periodMs: number;
}

/** Films a random scene of 240 x 136 px with presses close together; `change` has the last word on the scene. */
export async function filmScene(
  seed: number,
  options: SceneOptions = {},
  change: (scene: Scene) => Scene = (scene) => scene,
): Promise<FilmedScene> {
  const drawn = randomScene(seed, { widthPx: 240, heightPx: 136, presses: 5, ...options });
  const presses = { ...drawn.presses, intervalMinS: 0.36, intervalMaxS: 0.5 };
  const scene = withLengthOf(change({ ...drawn, presses }), 0.55);
  const source = simulateSource(scene);
  const rects = sceneRegions(scene, 0.15);
  const regions: Region[] = [
    { name: 'led', role: 'led', ...rects.led },
    { name: 'top', role: 'screen', ...rects.screen },
  ];
  const recipe: Recipe = {
    format: 'lagreel-recipe',
    version: 1,
    clip: { file: source.facts.file, sha256: source.facts.sha256, bytes: source.facts.bytes },
    labels: { chain: 'Birch' },
    regions,
    capture: {
      rateHz: null,
      exposureFraction: scene.camera.exposureFraction,
      readoutFraction: scene.camera.readoutFraction,
    },
    display: { refreshHz: scene.screen.refreshHz },
    cue: { edge: 'press', delayMs: 0, delayUncertaintyMs: 0 },
    response: { level: 0.1, windowMs: [0, 500] },
    decisions: [],
  };
  const { samples, times } = await sampleClip(source, regions);
  return {
    scene,
    source,
    recipe,
    samples,
    times,
    facts: source.facts,
    truthMs: latencyTruthMs(scene, rects.screen, recipe.response.level),
    periodMs: 1000 / scene.camera.captureRateHz,
  };
}
