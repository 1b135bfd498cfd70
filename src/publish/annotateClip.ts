/** From a clip and its record to the pictures of an annotated film: plan first, then picture by picture. */
import { type CaptureClock, resolveCaptureClock } from '../clip/captureClock.js';
import { type FrameSource, type FrameTimes, uprightSize } from '../clip/frameSource.js';
import { AnalysisError, UsageError } from '../errors.js';
import type { ClipRecord, PressRecord } from '../record/record.js';
import { type FilmLayout, filmLayout, pictureSize } from '../report/annotated/filmLayout.js';
import type { FlashGrid } from '../report/annotated/flashes.js';
import type { PanelWords } from '../report/annotated/panelSvg.js';
import { type PacedFilm, paceFilm } from '../report/annotated/safeSpeed.js';
import { type PressScene, pressScenes, responseToShow } from '../report/annotated/timeline.js';
import { labelsOf, screenRegions } from '../report/headline.js';
import { fixed, short, withUncertainty } from '../report/numberText.js';
import { plainText } from '../report/plainText.js';
import type { ClipSamples } from '../samples/samples.js';
import { clipTrace, ledChangeS, sharesOf } from './clipTraces.js';

/** What to show, and how. */
export interface AnnotateRequest {
  /** A press by its number in the record, the one nearest the median, or all. */
  readonly press: number | 'typical' | 'all';
  /** Screen region whose answer is counted; default the first with an answer. */
  readonly region?: string;
  /** How much slower than life. */
  readonly slow: number;
  /** Keeps that speed even where it flashes, with a caution burnt in. */
  readonly keepSpeed: boolean;
}

/** Reads RGB pictures of runs of frames, as `readPictures` does. */
export type PictureReader = (
  runs: readonly (readonly [number, number])[],
  width: number,
  height: number,
  scaling: 'area' | 'sharp',
) => AsyncIterable<Uint8Array>;

/** Everything that is decided before a picture is painted. */
export interface AnnotationPlan {
  readonly region: string;
  readonly led: string;
  readonly layout: FilmLayout;
  readonly scenes: readonly PressScene[];
  readonly words: readonly PanelWords[];
  readonly paced: PacedFilm;
  /** Runs of camera frames, one a scene, in order. */
  readonly runs: readonly (readonly [number, number])[];
}

/** Cells of the grid on which flashes are counted, along the longer side. */
const GRID_CELLS = 64;

/**
 * Plans the film.
 * @param samples of the record's regions, and `times` of the same pass.
 * @throws UsageError for a press or region that is not there; AnalysisError `record-invalid` where clip and record do
 *   not belong together.
 */
export async function planAnnotation(
  source: FrameSource,
  record: ClipRecord,
  samples: ClipSamples,
  times: FrameTimes,
  read: PictureReader,
  request: AnnotateRequest,
  kind: 'film' | 'loop' = 'film',
): Promise<AnnotationPlan> {
  const clock = clockOf(source, record, times);
  const region = regionOf(record, request.region);
  const led = record.recipe.regions.find((r) => r.role === 'led')!.name;
  const presses = pressesOf(record, region, request.press);
  const [ledTrace, screenTrace] = [led, region].map((name) => clipTrace(samples, name, clock, record));
  const scenes = pressScenes(
    record,
    region,
    presses.map((p) => p.index),
    { ...clock, middleS: screenTrace!.middleS },
  );
  const empty = scenes.find((s) => s.frames.length === 0);
  if (empty) throw new UsageError(`press ${empty.press.index} has no camera frame of its own to show`);
  const upright = uprightSize(source.facts);
  const size = pictureSize(upright.width, upright.height, kind);
  const runs = scenes.map((s): [number, number] => [s.frames[0]!.frame, s.frames.at(-1)!.frame]);
  const grids = await flashGrids(runs, upright, read);
  const paced = paceFilm(scenes, clock.periodS, request.slow, (k) => grids.get(k)!, request.keepSpeed);
  const words = scenes.map((scene) => {
    const frames = scene.frames.map((f) => f.frame);
    const { press } = scene;
    const response = responseToShow(press, region);
    const changeS = response === null ? null : ([response.firstLightS!, response.settledS!] as const);
    const zeroMs =
      scene.frames[0]!.counterMs - (clock.capturedAtS[frames[0]!]! + screenTrace!.middleS) * 1000;
    const timesMs = (middleS: number) => frames.map((k) => (clock.capturedAtS[k]! + middleS) * 1000 + zeroMs);
    const { capturedAtS } = clock;
    return panelWords(record, region, scene, paced, [
      {
        name: plainText(led),
        timesMs: timesMs(ledTrace!.middleS),
        shares: sharesOf(ledTrace!, capturedAtS, frames, ledChangeS(press, clock.periodS)),
      },
      {
        name: plainText(region),
        timesMs: timesMs(screenTrace!.middleS),
        shares: sharesOf(screenTrace!, capturedAtS, frames, changeS),
      },
    ]);
  });
  return { region, led, layout: filmLayout(size.width, size.height), scenes, words, paced, runs };
}

function clockOf(source: FrameSource, record: ClipRecord, times: FrameTimes): CaptureClock {
  const clock = resolveCaptureClock({
    facts: source.facts,
    ptsTicks: times.ptsTicks,
    statedRateHz: record.recipe.capture.rateHz,
  });
  const sameFrames = times.ptsTicks.length === record.clip.frames;
  if (clock.known && sameFrames && Math.abs(clock.captureRateHz / record.timing.captureRateHz - 1) < 1e-5)
    return clock;
  throw new AnalysisError(
    'record-invalid',
    `the record of ${source.facts.file} does not fit the clip (${record.clip.frames} frames at ${record.timing.captureRateHz} Hz, the clip has ${times.ptsTicks.length}): measure the clip again`,
  );
}

function regionOf(record: ClipRecord, asked: string | undefined): string {
  const names = screenRegions(record);
  if (asked !== undefined) {
    if (names.includes(asked)) return asked;
    throw new UsageError(
      `there is no screen region "${asked}" in the record of ${record.clip.file}: it has ${names.join(', ')}`,
    );
  }
  const answered = names.find((name) => record.presses.some((p) => responseToShow(p, name) !== null));
  const region = answered ?? names[0];
  if (region !== undefined) return region;
  throw new UsageError(`the record of ${record.clip.file} names no screen region: nothing can be shown`);
}

function pressesOf(
  record: ClipRecord,
  region: string,
  asked: AnnotateRequest['press'],
): readonly PressRecord[] {
  const { presses } = record;
  if (presses.length === 0)
    throw new UsageError(`the record of ${record.clip.file} has no press: nothing can be shown`);
  if (asked === 'all') return presses;
  if (typeof asked === 'number') {
    const press = presses.find((p) => p.index === asked);
    if (press) return [press];
    throw new UsageError(
      `there is no press ${asked} in ${record.clip.file}: choose one from 1 to ${presses.length}`,
    );
  }
  const median = record.summary[region]?.medianMs ?? 0;
  const distance = (p: PressRecord) =>
    Math.abs((responseToShow(p, region)?.latencyMs ?? Number.POSITIVE_INFINITY) - median);
  const counted = presses.filter((p) => p.status === 'measured');
  return [[...(counted.length > 0 ? counted : presses)].sort((a, b) => distance(a) - distance(b))[0]!];
}

async function flashGrids(
  runs: readonly (readonly [number, number])[],
  upright: { readonly width: number; readonly height: number },
  read: PictureReader,
): Promise<ReadonlyMap<number, FlashGrid>> {
  const scale = GRID_CELLS / Math.max(upright.width, upright.height);
  const cells = (px: number) => Math.max(1, Math.round(px * Math.min(1, scale)));
  const frames = runs.flatMap(([first, last]) =>
    Array.from({ length: last - first + 1 }, (_, i) => first + i),
  );
  const grids = new Map<number, FlashGrid>();
  let at = 0;
  for await (const grid of read(runs, cells(upright.width), cells(upright.height), 'area'))
    grids.set(frames[at++]!, grid);
  return grids;
}

const STATUS_WORDS: Readonly<Record<PressRecord['status'], string>> = {
  measured: '',
  'no-response': ', no answer seen',
  ambiguous: ', ambiguous',
  excluded: ', excluded',
};

function panelWords(
  record: ClipRecord,
  region: string,
  { press }: PressScene,
  paced: PacedFilm,
  traces: PanelWords['traces'],
): PanelWords {
  const response = responseToShow(press, region);
  const labels = Object.values(labelsOf(record, region))
    .map(plainText)
    .filter((value) => value !== '');
  const slow = short(paced.film.slow);
  const delayMs = record.recipe.cue.delayMs;
  const zero = delayMs === 0 ? 'the LED lights' : `the press (${fixed(delayMs, 1)} ms before the LED lights)`;
  return {
    title: labels.length > 0 ? labels.join(' · ') : plainText(record.clip.file),
    note: `press ${press.index} of ${record.presses.length}${STATUS_WORDS[press.status]} · ${slow} times slower`,
    footnote: `0.0 ms: ${zero}. Each picture counts at the middle of its exposure, at the height of "${plainText(region)}".`,
    states: {
      before: 'before the press',
      waiting: 'since the press, no answer yet',
      answered: 'since the press',
    },
    latency:
      response === null
        ? null
        : `answer after ${withUncertainty(response.latencyMs!, response.uncertaintyMs!)}`,
    latencyMs: response?.latencyMs ?? null,
    traces,
  };
}
