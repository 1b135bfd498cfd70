/** The distribution of one region's latencies, and the wait model on top of it. */
import { describe } from '../stats/describe.js';
import { medianInterval } from '../stats/medianInterval.js';
import { quantile } from '../stats/quantile.js';
import { fitWaitModel, type WaitModelFit } from '../stats/waitModel.js';
import type { Latency } from './latencies.js';
import type { RefreshPeriod } from './refreshPeriod.js';
import { verdictSentence } from './verdict.js';

/** Distribution, wait model and verdict of one region. */
export interface LatencySummary {
  readonly n: number;
  readonly minimumMs: number;
  readonly maximumMs: number;
  readonly medianMs: number;
  readonly medianIntervalMs: readonly [number, number] | null;
  readonly medianConfidence: number | null;
  readonly meanMs: number;
  readonly sdMs: number | null;
  readonly quantilesMs: {
    readonly p05: number;
    readonly p25: number;
    readonly p75: number;
    readonly p95: number;
  };
  readonly displayFrameMs: number | null;
  readonly commonUncertaintyMs: number;
  readonly waitModel: WaitModelFit | null;
  readonly verdict: string;
}

/** Summarises latencies of one region; null where there are none. */
export function summariseLatencies(
  latencies: readonly Latency[],
  refresh: RefreshPeriod,
): LatencySummary | null {
  if (latencies.length === 0) return null;
  const values = latencies.map((l) => l.latencyMs);
  const commonUncertaintyMs = commonPart(latencies);
  const own = latencies.map((l) => ({
    valueMs: l.latencyMs,
    uncertaintyMs: Math.sqrt(Math.max(0, l.uncertaintyMs ** 2 - commonUncertaintyMs ** 2)),
  }));
  const waitModel =
    latencies.length >= 3 ? fitWaitModel(own, { periodMs: refresh.periodMs, commonUncertaintyMs }) : null;
  const d = describe(values);
  const interval = medianInterval(values);
  return {
    n: d.n,
    minimumMs: d.minimum,
    maximumMs: d.maximum,
    medianMs: quantile(values, 0.5),
    medianIntervalMs: interval ? [interval.low, interval.high] : null,
    medianConfidence: interval ? interval.confidence : null,
    meanMs: d.mean,
    sdMs: d.sd,
    quantilesMs: {
      p05: quantile(values, 0.05),
      p25: quantile(values, 0.25),
      p75: quantile(values, 0.75),
      p95: quantile(values, 0.95),
    },
    displayFrameMs: refresh.periodMs,
    commonUncertaintyMs,
    waitModel,
    verdict: verdictSentence(waitModel, values),
  };
}

/** What all presses share, from the budgets (the mean over presses, which hardly differ in it). */
function commonPart(latencies: readonly Latency[]): number {
  let variance = 0;
  for (const latency of latencies) {
    for (const part of latency.budget) if (part.common) variance += part.standardUncertaintyMs ** 2;
  }
  return Math.sqrt(variance / latencies.length);
}
