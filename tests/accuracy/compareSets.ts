/** Held-out sets for comparisons: latencies by the wait model, and a smaller number of filmed scenes. */
import { compareRecords } from '../../src/compare/compareRecords.js';
import type { CompareInput } from '../../src/compare/measuredRegion.js';
import { measureClip } from '../../src/measure.js';
import { type SeededRandom, seededRandom } from '../../src/numeric/seededRandom.js';
import type { GroupComparison, Labels } from '../../src/record/comparison.js';
import { emptyRecipe } from '../../src/record/parseRecipe.js';
import type { Region } from '../../src/region/region.js';
import { randomScene, withLengthOf } from '../../src/simulate/randomScene.js';
import { simulateSource } from '../../src/simulate/renderSource.js';
import type { JitterLaw, Scene } from '../../src/simulate/scene.js';
import { sceneRegions } from '../../src/simulate/sceneRegions.js';
import { latencyTruthMs } from '../../src/simulate/truth.js';
import { type Chain, drawLatencies, madeRecord } from '../compare/madeRecord.js';

const REQUEST = { by: ['chain'], baseline: { chain: 'Direct' } } as const;

/** One set: what was found, and the true difference, ms. */
export interface ComparedSet {
  readonly found: GroupComparison;
  readonly truthMs: number;
}

/** Two chains, each with so many presses. */
export interface SetOptions {
  readonly presses: readonly [number, number];
  readonly chain: Chain;
  readonly baseline: Chain;
}

function made(file: string, chain: string, n: number, law: Chain, random: SeededRandom): CompareInput {
  return madeRecord(file, {
    labels: { chain },
    uncertaintyMs: law.uncertaintyMs ?? 0.2,
    regions: [{ latenciesMs: drawLatencies(random, n, law) }],
  });
}

/** A set at the level of latencies. */
export function latencySet(random: SeededRandom, { presses, chain, baseline }: SetOptions): ComparedSet {
  const inputs = [
    made('direct.mp4', 'Direct', presses[1], baseline, random),
    made('other.mp4', 'Birch', presses[0], chain, random),
  ];
  return {
    found: compareRecords(inputs, REQUEST).comparisons[0]!,
    truthMs: chain.delayMs - baseline.delayMs,
  };
}

/** Two screens in one picture at the level of latencies: one wait, an error of measurement each. */
export function pairedSet(
  random: SeededRandom,
  pairs: number,
  addedMs: number,
  uncertaintyMs: number,
): ComparedSet {
  const waits = drawLatencies(random, pairs, { delayMs: 50, uncertaintyMs: 0 });
  const side = (byMs: number): number[] => waits.map((w) => w + byMs + random.normal(0, uncertaintyMs));
  const input = madeRecord('pair.mp4', {
    labels: {},
    uncertaintyMs,
    regions: [
      { name: 'left', labels: { chain: 'Direct' }, latenciesMs: side(0) },
      { name: 'right', labels: { chain: 'Birch' }, latenciesMs: side(addedMs) },
    ],
  });
  return { found: compareRecords([input], REQUEST).comparisons[0]!, truthMs: addedMs };
}

/** A bench: camera, LED and display stay where they are from clip to clip. */
export function bench(seed: number, exposureFraction: number): Scene {
  return randomScene(seed, {
    widthPx: 240,
    heightPx: 136,
    refreshHz: [60],
    captureRateHz: [240],
    exposureFraction: [exposureFraction, exposureFraction],
    display: ['panel', 'oled'],
    content: ['flash'],
  });
}

/** What is filmed on a bench. */
export interface Filming {
  /** Press times, phases and noise. */
  readonly seed: number;
  readonly presses: number;
  readonly delayMs: number;
  readonly jitter?: JitterLaw;
}

/** The bench's scene with other presses and another chain. */
function filmed(scene: Scene, { seed, presses, delayMs, jitter = { kind: 'none' } }: Filming): Scene {
  return withLengthOf({
    ...scene,
    seed,
    screen: { ...scene.screen, phase: seededRandom(seed).uniform() },
    presses: { ...scene.presses, count: presses, ignored: [], unpromptedAfter: [], doubledAt: [] },
    latency: { ...scene.latency, fixedDelayMs: delayMs, jitter },
  });
}

/** Measures with regions and refresh stated as a person would, the readout stated, the exposure found. */
async function measured(scene: Scene, labels: Labels, screens: readonly Region[]): Promise<CompareInput> {
  const source = simulateSource(scene);
  const { led } = sceneRegions(scene);
  const { facts } = source;
  const name = `${Object.values(labels).join('-')}-${scene.seed}`;
  const base = emptyRecipe({ file: `${name}.mp4`, sha256: facts.sha256, bytes: facts.bytes });
  const { record } = await measureClip(source, {
    ...base,
    labels,
    regions: [{ name: 'led', role: 'led', ...led }, ...screens],
    capture: { ...base.capture, readoutFraction: scene.camera.readoutFraction },
    display: { refreshHz: 60 },
  });
  return { record, recordPath: `${name}.record.json`, reportPath: `${name}.report.html` };
}

/** Two chains filmed one after the other on one bench, in memory. */
export async function filmedSet(scene: Scene, baseline: Filming, chain: Filming): Promise<ComparedSet> {
  const screens: Region[] = [{ name: 'screen', role: 'screen', ...sceneRegions(scene).screen }];
  const inputs = [
    await measured(filmed(scene, baseline), { chain: 'Direct' }, screens),
    await measured(filmed(scene, chain), { chain: 'Birch' }, screens),
  ];
  return {
    found: compareRecords(inputs, REQUEST).comparisons[0]!,
    truthMs: chain.delayMs - baseline.delayMs,
  };
}

/**
 * Two regions of one screen, labelled as two chains: side by side their true difference is nil, one below the other it
 * is the time that the display takes to draw from one to the other (truth of the simulator).
 */
export async function filmedPair(scene: Scene, filming: Filming, lower: boolean): Promise<ComparedSet> {
  const film = filmed(scene, filming);
  const { rect } = scene.screen;
  const [width, height] = [Math.round(0.2 * rect.width), Math.round(0.16 * rect.height)];
  const x = rect.x + Math.round(0.15 * rect.width);
  const y = rect.y + Math.round(0.3 * rect.height);
  const first = { x, y, width, height };
  const second = lower
    ? { ...first, x: x + Math.round(0.4 * rect.width), y: y + Math.round(0.125 * rect.height) }
    : { ...first, x: x + Math.round(0.4 * rect.width) };
  const input = await measured(film, {}, [
    { name: 'left', role: 'screen', ...first, labels: { chain: 'Direct' } },
    { name: 'right', role: 'screen', ...second, labels: { chain: 'Birch' } },
  ]);
  const [left, right] = [latencyTruthMs(film, first), latencyTruthMs(film, second)];
  const differences = left.flatMap((l, i) => (l === null || right[i] == null ? [] : [right[i]! - l]));
  return {
    found: compareRecords([input], REQUEST).comparisons[0]!,
    truthMs: differences.reduce((sum, d) => sum + d, 0) / differences.length,
  };
}

/** A stream of its own for each row of a table, so that rows do not move each other. */
export function streamOf(row: number): SeededRandom {
  return seededRandom(910_000 + row);
}
