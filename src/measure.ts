/** The main job: clip, regions, traces, onsets, presses, latencies, statistics, record. The only file that names them in order. */
import type { CaptureClock } from './clip/captureClock.js';
import { type ClipFacts, type FrameSource, type FrameTimes, uprightSize } from './clip/frameSource.js';
import { type ClipOnsets, findClipOnsets } from './clipOnsets.js';
import { checkPlaces, findMissingRegions, hasRole } from './clipRegions.js';
import { assessFitness } from './latency/assessFitness.js';
import { displayReadout, type SeenScan } from './latency/displayReadout.js';
import { type Latency, type LatencyConditions, latencyOf } from './latency/latencies.js';
import { isPulsed, lightDoubts } from './latency/lightDoubts.js';
import { refreshPeriod } from './latency/refreshPeriod.js';
import { fitScanout, scanoutNotes } from './latency/scanout.js';
import { summariseLatencies } from './latency/summarise.js';
import { measuredEvidence } from './measuredEvidence.js';
import { flagChanceAnswers } from './press/chanceAnswers.js';
import {
  answeredCount,
  flaggedShare,
  flickeringShare,
  isMostlyUnanswered,
  isOtherEdge,
  medianContrast,
  withClipDoubts,
} from './press/clipDoubts.js';
import { pairInStretches } from './press/pairInStretches.js';
import { flagReturns } from './press/returnAnswers.js';
import { makeProof } from './proof.js';
import type { CameraCalibration } from './record/camera.js';
import { composeRecord, type ReadoutUsed } from './record/composeRecord.js';
import type { Evidence } from './record/evidence.js';
import type { Recipe } from './record/recipe.js';
import type { ClipRecord } from './record/record.js';
import { checkRegion, readoutPosition } from './region/geometry.js';
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
  /** What changed when, before anything was paired. */
  readonly onsets: ClipOnsets;
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
  const { samples, times } = await (options.sample ?? sampleClip)(source, full.regions, {
    ...(options.signal ? { signal: options.signal } : {}),
    onProgress: (framesDone) =>
      options.onProgress?.({ stage: 'measuring', framesDone, framesTotal: source.facts.declaredFrames }),
  });
  const { camera, remember } = options;
  const known = { notes, camera, regionsUnsure, remember };
  const measurement = measureSamples(samples, times, source.facts, full, known);
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
  allSamples: ClipSamples,
  times: FrameTimes,
  facts: ClipFacts,
  recipe: Recipe,
  known: SamplesKnown = {},
): Measurement {
  const { camera, remember, notes = [] } = known;
  const onsets = findClipOnsets(allSamples, times, facts, recipe, { camera, remember });
  const { measurement, seenScan } = measureOnsets(onsets, times, facts, recipe, known);
  const { scan } = recipe.display;
  if (scan === undefined || seenScan === null) return measurement;
  const { note, ...shown } = displayReadout(scan, seenScan);
  const said = { ...known, notes: [...notes, note] };
  if (shown.fraction === null) return measureOnsets(onsets, times, facts, recipe, said).measurement;
  const readoutShown: ReadoutUsed = { ...shown, source: 'display' };
  const again = findClipOnsets(allSamples, times, facts, recipe, { camera, readoutShown, remember });
  return measureOnsets(again, times, facts, recipe, said).measurement;
}

/** From onsets to record and evidence, with what the clip shows of the display's scan; null where the readout is known. */
function measureOnsets(
  onsets: ClipOnsets,
  times: FrameTimes,
  facts: ClipFacts,
  recipe: Recipe,
  { notes = [], regionsUnsure = false }: SamplesKnown,
): { readonly measurement: Measurement; readonly seenScan: SeenScan | null } {
  const { samples, clock, readout, exposure, tone, ledTrace, led, screenTraces, screens } = onsets;
  const ledRegion = ledTrace.region;
  const durationS = clock.capturedAtS[samples.frames - 1]! + clock.periodS;
  const edgeSign = recipe.cue.edge === 'press' ? 1 : -1;
  const otherEdge = isOtherEdge(led, durationS, edgeSign);
  const plainly = pairInStretches(led, screens, clock, {
    edgeSign,
    windowS: [recipe.response.windowMs[0] / 1000, recipe.response.windowMs[1] / 1000],
    decisions: recipe.decisions,
  });
  const chance = flagChanceAnswers(plainly, screens, durationS);
  const paired = flagReturns(chance.pairing, screens);
  const pairing = withClipDoubts(paired, [
    ...(regionsUnsure ? ['regions-unsure'] : []),
    ...(otherEdge ? ['led-rests-the-other-way'] : []),
    ...(screens.some((s, i) => screenTraces[i]!.saturated && isPulsed(s)) ? ['clipped-pulses'] : []),
    ...(isMostlyUnanswered(
      paired.presses.length,
      paired.presses.filter((p) => p.status === 'measured').length,
    )
      ? ['most-unanswered']
      : []),
  ]);
  const regionResults = screens.map((screen, i) => {
    const conditions: LatencyConditions = {
      periodMs: clock.periodS * 1000,
      rateUncertaintyRel: clock.rateUncertaintyRel,
      timestampMs: clock.irregularityS * 1000,
      exposureSd: exposure.sd,
      readoutSd: readout.sd,
      readoutDistance: readoutPosition(screen.region, facts) - readoutPosition(ledRegion, facts),
      cueDelayMs: recipe.cue.delayMs,
      cueDelayUncertaintyMs: recipe.cue.delayUncertaintyMs,
      shapeMs: screen.shapeSdS * 1000,
      ...lightDoubts(ledTrace, screenTraces[i]!, screen, exposure.fraction, tone),
    };
    const latencies = pairing.presses.map((press) => latencyOf(press, screen.region.name, conditions));
    const counted = latencies.filter(
      (l, i): l is Latency => l !== null && pairing.presses[i]!.status === 'measured',
    );
    return { screen, latencies, counted, distance: conditions.readoutDistance };
  });
  const refresh = refreshPeriod(
    recipe.display.refreshHz,
    screens,
    pairing.presses.filter((p) => p.status === 'measured'),
  );
  const periodMs = clock.periodS * 1000;
  const heights = regionResults.map(({ screen, latencies }) => ({
    name: screen.region.name,
    middlePx: screen.region.y + screen.region.height / 2,
    latenciesMs: latencies.map((l, i) =>
      l !== null && pairing.presses[i]!.status === 'measured' ? l.latencyMs : null,
    ),
  }));
  const pictureHeightPx = uprightSize(facts).height;
  const scanout = fitScanout(heights, (readout.sd * periodMs) / pictureHeightPx);
  const seenScan = {
    spanPx: Math.max(...heights.map((h) => h.middlePx)) - Math.min(...heights.map((h) => h.middlePx)),
    ...{ scanout: fitScanout(heights, 0), refreshMs: refresh.periodMs, periodMs, pictureHeightPx },
    ...{ usedFraction: readout.fraction, orientation: facts.orientation },
  };
  const summaries = regionResults.map(({ screen, counted }) => ({
    screen,
    summary: summariseLatencies(counted, refresh),
  }));
  const evidenceOf = measuredEvidence(
    samples,
    [
      {
        set: led,
        contrast: led.onsets.length > 0 ? led.contrast : null,
        clippedShare: ledTrace.clippedCells,
      },
      ...screens.map((set, i) => ({
        set,
        contrast: set.onsets.length > 0 ? medianContrast(pairing, set) : null,
        clippedShare: screenTraces[i]!.clippedCells,
      })),
    ],
    clock,
  );
  const fitness = assessFitness({
    captureRateHz: clock.captureRateHz,
    rateSource: clock.source,
    ledContrast: led.contrast,
    ledSaturated: ledTrace.saturated,
    presses: pairing.presses.length,
    measured: pairing.presses.filter((p) => p.status === 'measured').length,
    ambiguous: pairing.presses.filter((p) => p.status === 'ambiguous').length,
    noResponse: pairing.presses.filter((p) => p.status === 'no-response').length,
    regionsUnsure,
    otherEdge,
    oddEdges: pairing.presses.filter((p) => p.flags.includes('odd-led-edge')).length,
    flaggedShare: flaggedShare(paired),
    screens: screens.map((s, i) => ({
      name: s.region.name,
      answered: answeredCount(pairing, s),
      contrast: medianContrast(pairing, s),
      flickering: flickeringShare(pairing, s),
      saturated: screenTraces[i]!.saturated,
    })),
    exposureFraction: exposure.fraction,
    exposureMeasured: exposure.source !== 'assumed',
    frames: samples.frames,
    droppedFrames: clock.droppedFrames,
    doubledFrames: clock.madeFrames,
    damagedFrames: times.damagedFrames,
    irregularityFrames: clock.irregularityS / clock.periodS,
    tickFrames: clock.tickS / clock.periodS,
    readoutKnown: readout.source !== 'unknown',
    readoutDistance: Math.max(0, ...regionResults.map((r) => Math.abs(r.distance))),
    shaken: [ledTrace, ...screenTraces].map(({ region }) => ({
      name: region.name,
      shakePx: evidenceOf[region.name]!.shakePx,
      sidePx: Math.min(region.width, region.height),
    })),
  });
  const record = composeRecord({
    version,
    size: uprightSize(facts),
    doubledFrames: clock.madeFrames,
    facts,
    samples,
    clock,
    recipe,
    exposure,
    tone,
    readout,
    pairing,
    fitness: { ...fitness, evidence: evidenceOf },
    regions: regionResults.map(({ screen, latencies }, i) => ({
      screen,
      latencies,
      summary: summaries[i]!.summary,
    })),
    refresh,
    scanout,
    durationS,
    notes: [
      ...scanoutNotes(scanout),
      ...notes,
      ...chance.notes,
      ...facts.warnings,
      ...clock.warnings,
      ...screens.flatMap((s) => s.warnings),
      ...refresh.warnings,
      ...pairing.unmatchedDecisions.map(
        (e) =>
          `The recipe ${e.decision}s a press at ${e.pressAtS} s ("${e.reason}"), but no press lies there.`,
      ),
    ],
  });
  const evidence = makeProof(samples, led, screens, pairing, {
    capturedAtS: clock.capturedAtS,
    periodS: clock.periodS,
    exposureFraction: exposure.fraction,
    rowDelayS: new Map(
      [ledTrace, ...screenTraces].map((t) => [t.region.name, t.openS[0]! - clock.capturedAtS[0]!]),
    ),
  });
  const measurement = { recipe, record, evidence, timeRemarks: clock.remarks, onsets };
  return { measurement, seenScan: readout.source === 'unknown' ? seenScan : null };
}
