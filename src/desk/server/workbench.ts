/**
 * The work of measuring for the desk: knows clips, samples and steps that were made before, and answers in the words of
 * the protocol. It runs in a process of its own (`workbenchProcess.ts`), so that the server answers meanwhile and a
 * calculation can be cut off.
 */
import { reportPage } from '../../archive/writeResults.js';
import { fileState } from '../../clip/clipFile.js';
import type { FrameSource } from '../../clip/frameSource.js';
import { reopenClip } from '../../clip/openClip.js';
import { clipClock } from '../../clipOnsets.js';
import { findMissingRegions } from '../../clipRegions.js';
import { type Measurement, type MeasureProgress, measureClip } from '../../measure.js';
import { measureFile, type SessionClip, withSession } from '../../node.js';
import type { Recipe } from '../../record/recipe.js';
import { rememberSteps } from '../../remember.js';
import { screenRegions } from '../../report/headline.js';
import { pressEvidencePlot } from '../../report/page/pressSection.js';
import { standaloneSvg } from '../../report/plots/plotSheet.js';
import type { RegionStore } from '../../samples/regionStore.js';
import { sampleByWayOf } from '../../samples/regionStore.js';
import type { FindResult, MeasureResult, TracesAnswer } from '../protocol.js';
import { tracesAnswer } from './answers.js';
import type { BenchClip } from './openClips.js';
import { Refusal } from './refusal.js';
import { rememberRegions } from './rememberRegions.js';

/** What can be asked of the workbench, each of a clip by a recipe; plain data. */
export interface BenchAsks {
  /** Measures; with `save`, by the recipe beside the clip, and writes all results as `lagreel measure` does. */
  readonly measure: { readonly save: false } | { readonly save: true; readonly row: SessionClip | null };
  readonly find: Record<never, never>;
  /** Indices of the frames that are measured from and their times; null where something would have to be decoded. */
  readonly clock: Record<never, never>;
  readonly traces: Record<never, never>;
  readonly strip: { readonly press: number; readonly region: string };
  readonly report: Record<never, never>;
}

/** What the workbench answers. */
export interface BenchAnswers {
  readonly measure: Omit<MeasureResult, 'recipeTag'>;
  readonly find: FindResult;
  readonly clock: ReturnType<typeof clipClock> | null;
  readonly traces: TracesAnswer;
  /** SVG. */
  readonly strip: string;
  /** HTML. */
  readonly report: string;
}

/** One thing that is asked. */
export type BenchAsk = {
  readonly [K in keyof BenchAsks]: {
    readonly kind: K;
    readonly clip: BenchClip;
    readonly recipe: Recipe;
  } & BenchAsks[K];
}[keyof BenchAsks];

/** How to answer. */
export interface BenchOptions {
  readonly signal: AbortSignal;
  readonly onProgress: (progress: MeasureProgress) => void;
}

/** Answers one ask. Throws Refusal 404 where something would have to be decoded that was not asked to be. */
export type Workbench = (ask: BenchAsk, options: BenchOptions) => Promise<BenchAnswers[BenchAsk['kind']]>;

/** Clips that stay open. */
const CLIPS = 8;
/** Measurements that are kept whole: undo goes back and forth between the last two, by the recipe asked and the one filled in. */
const MEASUREMENTS = 4;

/** A workbench over a place for regions, or null to decode always. */
export function openWorkbench(store: RegionStore | null): Workbench {
  const sources = new Map<string, FrameSource>();
  const measurements = new Map<string, Measurement>();
  const sample = sampleByWayOf(rememberRegions(store));
  const remember = rememberSteps();

  async function sourceOf({ path, facts, state }: BenchClip): Promise<FrameSource> {
    const key = `${path}\n${state}\n${facts.sha256}`;
    const source = sources.get(key) ?? reopenClip(path, facts, state);
    keepLast(sources, key, source, CLIPS);
    return source;
  }
  const keyOf = ({ facts }: BenchClip, recipe: Recipe) => facts.sha256 + JSON.stringify(recipe);
  function keep(clip: BenchClip, asked: Recipe, measurement: Measurement): Measurement {
    keepLast(measurements, keyOf(clip, asked), measurement, MEASUREMENTS);
    keepLast(measurements, keyOf(clip, measurement.recipe), measurement, MEASUREMENTS);
    return measurement;
  }
  async function measured(
    clip: BenchClip,
    recipe: Recipe,
    source: FrameSource,
    options?: BenchOptions,
  ): Promise<Measurement> {
    const known = measurements.get(keyOf(clip, recipe));
    // A file that is another one by now is no longer what was measured.
    if (known && (await fileState(clip.path)) === clip.state) return keep(clip, recipe, known);
    return keep(clip, recipe, await measureClip(source, recipe, { ...options, sample, remember }));
  }
  const answerOf = (measurement: Measurement, saved: boolean): BenchAnswers['measure'] => ({
    record: measurement.record,
    recipe: measurement.recipe,
    traces: tracesAnswer(measurement),
    saved,
  });

  return async (ask, options) => {
    const { clip, recipe } = ask;
    const source = await sourceOf(clip);
    const fromSamples = () => measured(clip, recipe, withoutDecoding(source));
    switch (ask.kind) {
      case 'measure': {
        if (!ask.save) return answerOf(await measured(clip, recipe, source, options), false);
        const row = ask.row ?? undefined;
        const { measurement } = await measureFile(clip.path, {
          ...options,
          ...{ source, sample, remember },
          adjustRecipe: (asked) => withSession(asked, row),
        });
        return answerOf(keep(clip, measurement.recipe, measurement), true);
      }
      case 'find': {
        const { regions, edge, unsure, notes } = await findMissingRegions(source, recipe, options);
        return { regions, edge, unsure, notes };
      }
      case 'clock': {
        try {
          const { samples, times } = await sample(withoutDecoding(source), recipe.regions);
          return clipClock(samples, times, clip.facts, recipe.capture.rateHz, remember);
        } catch (error) {
          if (error instanceof Refusal) return null;
          throw error;
        }
      }
      case 'traces':
        return tracesAnswer(await fromSamples());
      case 'strip':
        return stripOf(await fromSamples(), ask);
      case 'report':
        return reportPage(source, await fromSamples());
    }
  };
}

function stripOf({ record, evidence }: Measurement, { press: index, region }: BenchAsks['strip']): string {
  const press = record.presses.find((p) => p.index === index);
  if (!press || !screenRegions(record).includes(region))
    throw new Refusal(404, `${record.clip.file} has no such press and region.`);
  const led = record.recipe.regions.find((r) => r.role === 'led')?.name;
  const strips = (evidence.presses.get(index) ?? []).filter((s) => s.region === led || s.region === region);
  return standaloneSvg(pressEvidencePlot(record, press, strips));
}

/** A source of known facts that gives no frame: what is kept is found without it. */
function withoutDecoding({ facts }: FrameSource): FrameSource {
  const refuse = () =>
    Promise.reject(
      new Refusal(404, `${facts.file} was not measured with these regions yet: measure it first.`),
    );
  return { facts, readRects: refuse, readOverview: refuse, readStill: refuse };
}

function keepLast<T>(map: Map<string, T>, key: string, value: T, most: number): void {
  map.delete(key);
  map.set(key, value);
  for (const oldest of map.keys()) {
    if (map.size <= most) break;
    map.delete(oldest);
  }
}
