/** Writes what was measured from a clip: each file whole or not at all, and a record that was there kept as history. */
import { type FrameSource, uprightSize } from '../clip/frameSource.js';
import { AnalysisError } from '../errors.js';
import type { Measurement } from '../measure.js';
import { type ClipFiles, toJsonText, writeWhole } from '../record/files.js';
import type { ClipRecord } from '../record/record.js';
import { drawOverlay } from '../report/pictures/overlay.js';
import { pictureLibrary } from '../report/pictures/pictureLibrary.js';
import { renderPressesCsv } from '../report/pressesCsv.js';
import { renderReport } from '../report/reportHtml.js';
import { keepInHistory } from './history.js';

/** All that an overview picture depends on, but for lagreel itself. */
export interface OverviewQuestion {
  readonly facts: FrameSource['facts'];
  /** Time in the file of the picture that is drawn on, s. */
  readonly mediaS: number;
  readonly regions: Measurement['recipe']['regions'];
}

/** A place where overview pictures are kept; what it gives is exactly what drawing would give. */
export interface OverviewStore {
  /** JPEG; null where it is not there, or not sound. */
  read(question: OverviewQuestion): Promise<Uint8Array | null>;
  keep(question: OverviewQuestion, picture: Uint8Array): Promise<void>;
}

/**
 * Writes record, table, overview picture and report, and the recipe where that is wanted. The record comes after what
 * is drawn from it and the recipe last of all, so that a run that is stopped on the way is known by what is missing
 * (`finished.ts`); and a recipe whose regions were found never stands there before the record that tells how.
 * @throws AnalysisError `nothing-measurable` where no press was seen, `write-failed`; what `source.confirmed` fails
 *   with; then nothing is half-written.
 */
export async function writeResults(
  source: FrameSource,
  measurement: Measurement,
  files: ClipFiles,
  options: {
    readonly writeRecipe: boolean;
    readonly signal?: AbortSignal | undefined;
    readonly overviews?: OverviewStore | undefined;
  },
): Promise<void> {
  const { record } = measurement;
  checkPresses(record);
  const { picture, page } = await drawReport(source, measurement, options.overviews);
  const recordText = toJsonText(record);
  // All is drawn by now; a checksum that is worked out beside it is waited for as late as can be.
  await source.confirmed?.();
  options.signal?.throwIfAborted();
  await writeWhole(files.csv, renderPressesCsv(record));
  await writeWhole(files.regions, picture);
  await writeWhole(files.report, page);
  await keepInHistory(files, recordText);
  await writeWhole(files.record, recordText);
  if (options.writeRecipe) await writeWhole(files.recipe, toJsonText(measurement.recipe));
}

function checkPresses({ presses, fitness, clip }: ClipRecord): void {
  if (presses.length > 0) return;
  const reasons = fitness.reasons.filter((r) => r.severity === 'unfit').map((r) => r.text);
  throw new AnalysisError(
    'nothing-measurable',
    `no press was seen in ${clip.file}: ${reasons.join(' ') || 'check the LED region with --region led=led:x,y,width,height'}`,
  );
}

/** The report of a measurement with its overview picture, HTML; writes nothing. */
export async function reportPage(source: FrameSource, measurement: Measurement): Promise<string> {
  return (await drawReport(source, measurement)).page;
}

/** The overview picture and the report that holds it. */
async function drawReport(
  source: FrameSource,
  measurement: Measurement,
  overviews?: OverviewStore,
): Promise<{ readonly picture: Uint8Array; readonly page: string }> {
  const picture = await overviewPicture(source, measurement, overviews);
  const page = renderReport(measurement.record, { ...measurement.evidence, overviewJpeg: picture });
  return { picture, page };
}

/** The frame of the first press with the regions drawn in, JPEG. */
async function overviewPicture(
  source: FrameSource,
  { record, recipe }: Measurement,
  overviews: OverviewStore | undefined,
): Promise<Uint8Array> {
  const first = record.presses[0]?.responses.find((r) => r.halfS !== undefined);
  const capturedS = first?.settledS ?? record.clip.durationS / 2;
  // The picture is found by media time; on a retimed clip that runs slower than the capture clock.
  const mediaS = (capturedS / record.clip.durationS) * mediaDurationS(source, record.clip.frames);
  const question = { facts: source.facts, mediaS, regions: recipe.regions };
  const kept = await overviews?.read(question);
  if (kept) return kept;
  // The library takes as long to load as FFmpeg to find the picture.
  const [picture] = await Promise.all([source.readStill(mediaS, 960), pictureLibrary()]);
  const drawn = await drawOverlay(picture, recipe.regions, { fullWidthPx: uprightSize(source.facts).width });
  await overviews?.keep(question, drawn);
  return drawn;
}

function mediaDurationS(source: FrameSource, frames: number): number {
  return frames / (source.facts.nominalRateHz ?? 30);
}
