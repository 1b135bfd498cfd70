/** Records with stated latencies, for tests of comparisons: what a clip would have given, without a clip. */

import type { CompareInput } from '../../src/compare/measuredRegion.js';
import type { SeededRandom } from '../../src/numeric/seededRandom.js';
import type { Labels } from '../../src/record/comparison.js';
import { emptyRecipe } from '../../src/record/parseRecipe.js';
import type { BudgetComponent, ClipRecord, SummaryRecord } from '../../src/record/record.js';

/** One screen region of a made record. */
export interface MadeRegion {
  readonly name?: string;
  readonly labels?: Labels;
  /** By press; null is a press without a response. */
  readonly latenciesMs: readonly (number | null)[];
  /** Top of the region, px of 540. */
  readonly y?: number;
}

/** What a made record may state. */
export interface Made {
  readonly labels: Labels;
  readonly regions: readonly MadeRegion[];
  readonly uncertaintyMs?: number;
  /** Components that all presses share. */
  readonly common?: readonly BudgetComponent[];
  readonly refreshHz?: number | null;
  readonly level?: number;
  readonly edge?: 'press' | 'release';
  readonly light?: 'held' | 'pulsed';
  readonly fitness?: ClipRecord['fitness'];
  readonly ledY?: number;
  readonly cueDelayMs?: number;
}

/** A component that all presses share. */
export function commonPart(name: string, standardUncertaintyMs: number): BudgetComponent {
  return { name, standardUncertaintyMs, type: 'B', common: true };
}

/** A record as `measure` would write it, as far as a comparison looks. */
export function madeRecord(file: string, made: Made): CompareInput {
  const {
    uncertaintyMs = 0.2,
    common = [],
    refreshHz = 60,
    level = 0.1,
    edge = 'press',
    light = 'held',
  } = made;
  const commonVariance = common.reduce((sum, c) => sum + c.standardUncertaintyMs ** 2, 0);
  const total = Math.hypot(uncertaintyMs, Math.sqrt(commonVariance));
  const led = 0.4 * uncertaintyMs;
  const budget: BudgetComponent[] = [
    { name: 'LED onset', standardUncertaintyMs: led, type: 'A', common: false },
    {
      name: 'screen onset',
      standardUncertaintyMs: Math.sqrt(uncertaintyMs ** 2 - led ** 2),
      type: 'A',
      common: false,
    },
    ...common,
  ];
  const regions = made.regions.map((r, i) => ({
    name: r.name ?? (i === 0 ? 'screen' : `screen ${i + 1}`),
    ...r,
  }));
  const base = emptyRecipe({ file, sha256: '', bytes: 1 });
  const presses = Math.max(...regions.map((r) => r.latenciesMs.length));
  const summaries = regions.map((r): [string, SummaryRecord] => [
    r.name,
    {
      n: r.latenciesMs.length,
      minimumMs: 0,
      maximumMs: 0,
      medianMs: 0,
      medianIntervalMs: null,
      medianConfidence: null,
      meanMs: 0,
      sdMs: null,
      quantilesMs: { p05: 0, p25: 0, p75: 0, p95: 0 },
      displayFrameMs: refreshHz === null ? null : 1000 / refreshHz,
      responseTimeMs: null,
      light,
      waitModel: null,
      commonUncertaintyMs: 0,
      verdict: '',
    },
  ]);
  const record: ClipRecord = {
    format: 'lagreel-record',
    version: 1,
    tool: { name: 'lagreel', version: '0.1.0', ffmpeg: 'none' },
    clip: {
      file,
      sha256: 'a'.repeat(64),
      bytes: 1,
      width: 960,
      height: 540,
      frames: 2160,
      durationS: 9,
      codec: 'h264',
      container: 'mp4',
      rotationDeg: 0,
      pixelFormat: 'yuv420p',
      range: 'limited',
      transfer: 'bt709',
    },
    recipe: {
      ...base,
      labels: made.labels,
      regions: [
        { name: 'led', role: 'led', x: 40, y: made.ledY ?? 100, width: 20, height: 20 },
        ...regions.map((r) => ({
          name: r.name,
          role: 'screen' as const,
          x: 600,
          y: r.y ?? 100,
          width: 40,
          height: 20,
          ...(r.labels ? { labels: r.labels } : {}),
        })),
      ],
      cue: { edge, delayMs: made.cueDelayMs ?? 0, delayUncertaintyMs: 0 },
      response: { level, windowMs: [0, 500] },
    },
    timing: {
      captureRateHz: 240,
      source: 'tag',
      timeBase: [1, 90_000],
      droppedFrames: 0,
      doubledFrames: 0,
      exposureFraction: 0.9,
      exposureFractionInterval: null,
      exposureSource: 'stated',
      readoutFraction: null,
      readoutSource: 'unknown',
      tickMs: 0.01,
      irregularityMs: 0,
    },
    fitness: made.fitness ?? { class: 'fit', reasons: [] },
    presses: Array.from({ length: presses }, (_, i) => ({
      index: i + 1,
      ledOnsetS: i,
      ledOnsetUncertaintyMs: led,
      status: 'measured' as const,
      flags: [],
      responses: regions.map((r) => {
        const ms = r.latenciesMs[i] ?? null;
        return ms === null
          ? { region: r.name, status: 'no-response' as const, flags: [] }
          : {
              region: r.name,
              status: 'measured' as const,
              latencyMs: ms,
              uncertaintyMs: total,
              intervalMs: [ms - 1.96 * total, ms + 1.96 * total] as const,
              flags: [],
              budget,
            };
      }),
    })),
    unprompted: [],
    summary: Object.fromEntries(summaries),
    warnings: [],
  };
  const name = file.replace(/\.mp4$/, '');
  return { record, recordPath: `${name}.record.json`, reportPath: `${name}.report.html` };
}

/** How a made chain answers. */
export interface Chain {
  readonly delayMs: number;
  readonly uncertaintyMs?: number;
  readonly periodMs?: number;
  /** Jitter, uniform over so many display frames. */
  readonly jitterFrames?: number;
}

/** Latencies by the wait model: delay, wait, jitter and measurement error. */
export function drawLatencies(random: SeededRandom, n: number, chain: Chain): number[] {
  const { delayMs, uncertaintyMs = 0.2, periodMs = 1000 / 60, jitterFrames = 0 } = chain;
  return Array.from(
    { length: n },
    () =>
      delayMs +
      random.uniform(0, periodMs) +
      random.uniform(0, jitterFrames * periodMs) +
      random.normal(0, uncertaintyMs),
  );
}
