/** Puts the results of the stages into the fixed form of a record. */
import type { CaptureClock } from '../clip/captureClock.js';
import type { ClipFacts } from '../clip/frameSource.js';
import type { Latency } from '../latency/latencies.js';
import type { RefreshPeriod } from '../latency/refreshPeriod.js';
import type { Scanout } from '../latency/scanout.js';
import type { LatencySummary } from '../latency/summarise.js';
import type { ToneBend } from '../onset/ledTone.js';
import type { OnsetSet } from '../onset/onset.js';
import type { Pairing } from '../press/pairPresses.js';
import type { Recipe } from './recipe.js';
import type { ClipRecord, PressRecord, SummaryRecord } from './record.js';
import { roundRecord } from './roundRecord.js';

/** The exposure fraction that was used, and where it is from. */
export interface ExposureUsed {
  readonly fraction: number;
  readonly sd: number;
  readonly interval: readonly [number, number] | null;
  readonly source: 'stated' | 'measured' | 'assumed';
}

/** The readout fraction that was used, and where it is from. */
export interface ReadoutUsed {
  readonly fraction: number;
  readonly sd: number;
  readonly source: 'stated' | 'calibrated' | 'display' | 'unknown';
}

/** Everything that a record is put together from. */
export interface RecordParts {
  readonly version: string;
  /** Upright picture, px. */
  readonly size: { readonly width: number; readonly height: number };
  readonly doubledFrames: number;
  readonly facts: ClipFacts;
  /** Frames that are used. */
  readonly frames: number;
  readonly clock: CaptureClock;
  readonly recipe: Recipe;
  readonly exposure: ExposureUsed;
  readonly readout: ReadoutUsed;
  readonly tone: ToneBend | null;
  readonly pairing: Pairing;
  readonly fitness: ClipRecord['fitness'];
  readonly regions: readonly {
    readonly screen: OnsetSet;
    readonly latencies: readonly (Latency | null)[];
    readonly summary: LatencySummary | null;
  }[];
  readonly refresh: RefreshPeriod;
  readonly scanout: Scanout | null;
  readonly durationS: number;
  readonly notes: readonly string[];
}

/** Puts the results of the stages into the fixed form of a record; no number is made here. */
export function composeRecord(parts: RecordParts): ClipRecord {
  const { facts, clock, recipe, exposure, pairing } = parts;
  const summary: Record<string, SummaryRecord> = {};
  const warnings = [...parts.notes];
  for (const { screen, summary: s } of parts.regions) {
    if (!s) continue;
    summary[screen.region.name] = summaryRecord(s, screen, parts.refresh);
  }
  return roundRecord({
    format: 'lagreel-record',
    version: 1,
    tool: { name: 'lagreel', version: parts.version, ffmpeg: facts.decoder },
    clip: {
      file: facts.file,
      sha256: facts.sha256,
      bytes: facts.bytes,
      width: parts.size.width,
      height: parts.size.height,
      frames: parts.frames,
      durationS: parts.durationS,
      codec: facts.codec,
      container: facts.container,
      rotationDeg: facts.orientation.rotationDeg,
      pixelFormat: facts.pixelFormat,
      range: facts.range,
      transfer: facts.transfer,
    },
    recipe,
    timing: {
      captureRateHz: clock.captureRateHz,
      source: clock.source,
      timeBase: [facts.timeBase[0], facts.timeBase[1]],
      droppedFrames: clock.droppedFrames,
      doubledFrames: parts.doubledFrames,
      exposureFraction: exposure.fraction,
      exposureFractionInterval: exposure.interval,
      exposureSource: exposure.source,
      readoutFraction: parts.readout.source === 'unknown' ? null : parts.readout.fraction,
      readoutSource: parts.readout.source,
      tickMs: clock.tickS * 1000,
      irregularityMs: clock.irregularityS * 1000,
      toneBend: parts.tone?.bend ?? null,
      toneBendUncertainty: parts.tone?.sd ?? null,
    },
    fitness: parts.fitness,
    presses: pairing.presses.map((press, i) => pressRecord(press, i, parts)),
    unprompted: pairing.unprompted.map((u) => ({ region: u.region, onsetS: u.onset.levelS })),
    summary,
    scanout: parts.scanout,
    warnings,
  });
}

function pressRecord(press: Pairing['presses'][number], index: number, parts: RecordParts): PressRecord {
  return {
    index: press.index,
    ledOnsetS: press.led.levelS,
    ledOnsetUncertaintyMs: press.led.sdS * 1000,
    status: press.status,
    ...(press.reason !== undefined ? { reason: press.reason } : {}),
    flags: press.flags,
    responses: press.responses.map((response) => {
      const region = parts.regions.find((r) => r.screen.region.name === response.region);
      const latency = region?.latencies[index] ?? null;
      const base = { region: response.region, status: response.status, flags: response.flags };
      if (!response.onset || !latency) return base;
      return {
        ...base,
        firstLightS: response.onset.firstLightS,
        onsetS: response.onset.levelS,
        halfS: response.onset.halfS,
        settledS: response.onset.settledS,
        latencyMs: latency.latencyMs,
        uncertaintyMs: latency.uncertaintyMs,
        intervalMs: latency.intervalMs,
        budget: latency.budget,
      };
    }),
  };
}

function summaryRecord(s: LatencySummary, screen: OnsetSet, refresh: RefreshPeriod): SummaryRecord {
  const fit = s.waitModel;
  return {
    n: s.n,
    minimumMs: s.minimumMs,
    maximumMs: s.maximumMs,
    medianMs: s.medianMs,
    medianIntervalMs: s.medianIntervalMs,
    medianConfidence: s.medianConfidence,
    meanMs: s.meanMs,
    sdMs: s.sdMs,
    quantilesMs: s.quantilesMs,
    displayFrameMs: s.displayFrameMs,
    responseTimeMs: screen.responseTimeMs,
    light: screen.light,
    waitModel: fit
      ? {
          model: fit.model,
          fixedDelayMs: fit.fixedDelayMs,
          intervalMs: fit.intervalMs,
          jitterMs: fit.jitterMs,
          jitterIntervalMs: fit.jitterIntervalMs,
          periodMs: fit.model === 'no-wait' ? 0 : (fit.periodMs ?? 0),
          periodSource: refresh.source,
          lag: fit.lag,
          // A hypothesis that cannot explain the data at all has no finite criterion; it is left out.
          bic: Object.fromEntries(Object.entries(fit.bic).filter(([, v]) => Number.isFinite(v))),
          warnings: refresh.warnings,
        }
      : null,
    commonUncertaintyMs: s.commonUncertaintyMs,
    verdict: s.verdict,
  };
}
