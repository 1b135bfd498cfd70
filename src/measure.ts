/** The main job: clip, regions, traces, onsets, presses, latencies, statistics, record. The only file that names them in order. */
import type { CaptureClock } from './clip/captureClock.js';
import { type ClipFacts, type FrameSource, type FrameTimes, uprightSize } from './clip/frameSource.js';
import {
  type ClipFindings,
  type FindingsQuestion,
  type FindingsStore,
  findingsAt,
  type LightFindings,
  lightFindings,
} from './clipFindings.js';
import { clipFitness } from './clipFitness.js';
import { clipLatencies } from './clipLatencies.js';
import { findClipOnsets, type OnsetOptions, onsetRecipe } from './clipOnsets.js';
import { checkPlaces, findMissingRegions, hasRole } from './clipRegions.js';
import { displayReadout, type SeenScan } from './latency/displayReadout.js';
import { refreshPeriod } from './latency/refreshPeriod.js';
import { fitScanout, scanoutNotes } from './latency/scanout.js';
import { summariseLatencies } from './latency/summarise.js';
import { makeProof } from './proof.js';
import type { CameraCalibration } from './record/camera.js';
import { composeRecord, type ReadoutUsed } from './record/composeRecord.js';
import type { Evidence } from './record/evidence.js';
import type { Recipe } from './record/recipe.js';
import type { ClipRecord } from './record/record.js';
import { checkRegion } from './region/geometry.js';
import type { Remember } from './remember.js';
import { sampleClip } from './samples/sampleClip.js';
import type { ClipSamples } from './samples/samples.js';
import { version } from './version.js';

/** What a measurement leaves behind. */
export interface Measurement {
  /** The recipe with everything filled in that was found. */
  readonly recipe: Recipe;
  readonly record: ClipRecord;
  readonly evidence: Evidence;
  /** How the clip's time is known, one sentence each. */
  readonly timeRemarks: CaptureClock['remarks'];
  /** What the light says, before anything was paired. */
  readonly findings: ClipFindings;
}

/** Progress of the long parts: which pass, frames done, frames to do (null where the clip does not say). */
export interface MeasureProgress {
  readonly stage: 'finding regions' | 'measuring';
  readonly framesDone: number;
  readonly framesTotal: number | null;
}

/** How to run. */
export interface MeasureOptions {
  readonly signal?: AbortSignal;
  readonly onProgress?: (progress: MeasureProgress) => void;
  /** A camera file: gives the readout where the recipe does not state it. */
  readonly camera?: CameraCalibration;
  /** Another way to the samples than decoding, such as a cache; gives exactly what `sampleClip` would. */
  readonly sample?: typeof sampleClip;
  /** A place where findings are kept; gives exactly what the samples would. */
  readonly findings?: FindingsStore;
  /** May know some steps already; gives exactly what they would. */
  readonly remember?: Remember;
}

/** What is known of a clip beside its samples. */
export interface SamplesKnown {
  /** Sentences for the record. */
  readonly notes?: readonly string[];
  readonly camera?: CameraCalibration | undefined;
  /** The regions were found, and should be looked at before they are believed. */
  readonly regionsUnsure?: boolean;
  readonly remember?: Remember | undefined;
}

/**
 * Measures a clip by a recipe; regions that the recipe does not name are looked for in the clip itself.
 * @throws UsageError for a request that does not fit the clip; AnalysisError `rate-unknown` where the clip does not say
 *   how fast it was filmed, `nothing-measurable` where no LED and screen were found.
 */
export async function measureClip(
  source: FrameSource,
  recipe: Recipe,
  options: MeasureOptions = {},
): Promise<Measurement> {
  for (const region of recipe.regions) checkRegion(region, source.facts);
  const notes: string[] = [];
  let full = recipe;
  let regionsUnsure = false;
  if (!hasRole(recipe, 'led') || !hasRole(recipe, 'screen')) {
    const found = await findMissingRegions(source, recipe, options);
    full = { ...recipe, regions: found.regions, cue: { ...recipe.cue, edge: found.edge } };
    notes.push(...found.notes);
    regionsUnsure = found.unsure;
  }
  checkPlaces(full, source.facts);
  const { camera, remember, signal, findings } = options;
  const known = { notes, camera, regionsUnsure, remember };
  const { facts } = source;
  let sampled: ReturnType<typeof sampleClip> | undefined;
  const sampledOnce = () => {
    sampled ??= (options.sample ?? sampleClip)(source, full.regions, {
      ...(signal ? { signal } : {}),
      onProgress: (framesDone) =>
        options.onProgress?.({ stage: 'measuring', framesDone, framesTotal: facts.declaredFrames }),
    });
    return sampled;
  };
  const find = async (readoutShown?: ReadoutUsed): Promise<LightFindings> => {
    const question: FindingsQuestion = { facts, recipe: onsetRecipe(full), camera, readoutShown };
    const kept = (await findings?.read(question)) ?? null;
    signal?.throwIfAborted();
    if (kept !== null) return kept;
    const { samples, times } = await sampledOnce();
    const found = foundIn(samples, times, facts, full, { camera, remember, readoutShown });
    if (!times.stoppedEarly) await findings?.keep(question, found);
    return found;
  };
  const first = await find();
  const seen = measureFindings(first, facts, full, known);
  const shown = readoutByDisplay(seen, full, known);
  const findAgain = async ({ readoutShown }: ReadoutSeen) =>
    readoutShown ? await find(readoutShown) : first;
  const { measurement } = shown ? measureFindings(await findAgain(shown), facts, full, shown.known) : seen;
  const regions = full.regions.filter((r) => !recipe.regions.includes(r)).map((r) => r.name);
  if (regions.length === 0) return measurement;
  return {
    ...measurement,
    record: { ...measurement.record, found: { regions, edgeGiven: recipe.cue.edge } },
  };
}

/**
 * Everything after the pixels: from samples to record and evidence. Pure; runs the same in a browser. Where only the
 * display can tell the camera's readout, all is worked out again with it.
 */
export function measureSamples(
  samples: ClipSamples,
  times: FrameTimes,
  facts: ClipFacts,
  recipe: Recipe,
  known: SamplesKnown = {},
): Measurement {
  const find = (readoutShown?: ReadoutUsed) =>
    foundIn(samples, times, facts, recipe, { ...known, readoutShown });
  const first = find();
  const seen = measureFindings(first, facts, recipe, known);
  const shown = readoutByDisplay(seen, recipe, known);
  if (!shown) return seen.measurement;
  const again = shown.readoutShown ? find(shown.readoutShown) : first;
  return measureFindings(again, facts, recipe, shown.known).measurement;
}

function foundIn(
  samples: ClipSamples,
  times: FrameTimes,
  facts: ClipFacts,
  recipe: Recipe,
  { camera, readoutShown, remember }: OnsetOptions,
): LightFindings {
  const options = { camera, readoutShown, remember };
  return lightFindings(findClipOnsets(samples, times, facts, recipe, options), times);
}

/** What the display shows of the camera's readout, null where it shows none, and the same said in the notes. */
interface ReadoutSeen {
  readonly readoutShown: ReadoutUsed | null;
  readonly known: SamplesKnown;
}

/** null where nobody asks the display. */
function readoutByDisplay(
  { seenScan }: { readonly seenScan: SeenScan | null },
  { display: { scan } }: Recipe,
  known: SamplesKnown,
): ReadoutSeen | null {
  if (scan === undefined || seenScan === null) return null;
  const { note, ...shown } = displayReadout(scan, seenScan);
  return {
    readoutShown: shown.fraction === null ? null : { ...shown, source: 'display' },
    known: { ...known, notes: [...(known.notes ?? []), note] },
  };
}

/** From findings to record and evidence, with what the clip shows of the display's scan; null where the readout is known. */
function measureFindings(
  light: LightFindings,
  facts: ClipFacts,
  recipe: Recipe,
  { notes = [], regionsUnsure = false }: SamplesKnown,
): { readonly measurement: Measurement; readonly seenScan: SeenScan | null } {
  const findings = findingsAt(light, recipe.response.level);
  const { frames, clock, readout, exposure, tone, led, ledLight, screens, screenLights } = findings;
  const latencies = clipLatencies(findings, facts, recipe, regionsUnsure);
  const { pairing, regions, durationS } = latencies;
  const isMeasured = (press: number) => pairing.presses[press]!.status === 'measured';
  const refresh = refreshPeriod(
    recipe.display.refreshHz,
    screens,
    pairing.presses.filter((p) => p.status === 'measured'),
  );
  const periodMs = clock.periodS * 1000;
  const heights = regions.map((region) => ({
    name: region.screen.region.name,
    middlePx: region.screen.region.y + region.screen.region.height / 2,
    latenciesMs: region.latencies.map((l, i) => (l !== null && isMeasured(i) ? l.latencyMs : null)),
  }));
  const pictureHeightPx = uprightSize(facts).height;
  const scanout = fitScanout(heights, (readout.sd * periodMs) / pictureHeightPx);
  const seenScan = {
    spanPx: Math.max(...heights.map((h) => h.middlePx)) - Math.min(...heights.map((h) => h.middlePx)),
    ...{ scanout: fitScanout(heights, 0), refreshMs: refresh.periodMs, periodMs, pictureHeightPx },
    ...{ usedFraction: readout.fraction, orientation: facts.orientation },
  };
  const record = composeRecord({
    version,
    size: uprightSize(facts),
    doubledFrames: clock.madeFrames,
    facts,
    frames,
    clock,
    recipe,
    exposure,
    tone,
    readout,
    pairing,
    fitness: clipFitness(findings, latencies, regionsUnsure),
    regions: regions.map((region) => ({ ...region, summary: summariseLatencies(region.counted, refresh) })),
    refresh,
    scanout,
    durationS,
    notes: [
      ...scanoutNotes(scanout),
      ...notes,
      ...latencies.notes,
      ...facts.warnings,
      ...clock.warnings,
      // What is said of the display is alike in all of its regions.
      ...new Set(screens.flatMap((s) => s.warnings)),
      ...refresh.warnings,
      ...pairing.unmatchedDecisions.map(
        (e) =>
          `The recipe ${e.decision}s a press at ${e.pressAtS} s ("${e.reason}"), but no press lies there.`,
      ),
    ],
  });
  const evidence = makeProof([ledLight, ...screenLights], [led, ...screens], pairing, {
    capturedAtS: clock.capturedAtS,
    periodS: clock.periodS,
    exposureFraction: exposure.fraction,
  });
  const measurement = { recipe, record, evidence, timeRemarks: clock.remarks, findings };
  return { measurement, seenScan: readout.source === 'unknown' ? seenScan : null };
}
