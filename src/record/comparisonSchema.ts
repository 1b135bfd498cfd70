/** The schema of a comparison file, for its JSON Schema and for reading one back. */
import * as z from 'zod';
import { AnalysisError } from '../errors.js';
import type { Comparison } from './comparison.js';
import { schemaFault } from './schemaFault.js';

const ms = z.number();
const interval = z.tuple([ms, ms]);
const count = z.number().int().min(0);
const p = z.number().min(0).max(1);
const labels = z.record(z.string(), z.string());
const lag = z.enum(['fixed', 'variable', 'undecided']);
const difference = z.looseObject({ differenceMs: ms, intervalMs: interval });
const heading = { labels, name: z.string(), region: z.string() };

const equivalence = z.looseObject({
  marginMs: z.number().positive(),
  interval90Ms: interval,
  p,
  pAdjusted: p,
  equivalent: z.boolean(),
});

const group = z.looseObject({
  ...heading,
  isBaseline: z.boolean(),
  clips: count,
  n: count,
  fixedDelayMs: ms.nullable(),
  intervalMs: interval.nullable(),
  medianMs: ms,
  minimumMs: ms,
  maximumMs: ms,
  meanMs: ms,
  quantilesMs: z.looseObject({ p05: ms, p25: ms, p75: ms, p95: ms }),
  jitterMs: z.number().min(0).nullable(),
  jitterIntervalMs: interval.nullable(),
  lag,
  periodMs: z.number().positive().nullable(),
  fixedDelayDisplayFrames: z.number().nullable(),
  latencies: z.array(z.looseObject({ clip: count, ms })),
  betweenClipSdMs: z.number().min(0).nullable(),
});

const comparison = z.looseObject({
  ...heading,
  baseline: labels,
  baselineRegion: z.string(),
  method: z.enum(['paired', 'wait-model', 'none']),
  addedMs: ms.nullable(),
  intervalMs: interval.nullable(),
  addedDisplayFrames: z.number().nullable(),
  intervalDisplayFrames: interval.nullable(),
  addedRangeMs: interval.nullable(),
  equivalent: z.boolean(),
  equivalence: equivalence.nullable(),
  lag,
  verdict: z.enum(['no-added-lag', 'adds-fixed', 'adds-variable', 'less-lag', 'undecided']),
  sentence: z.string(),
  morePresses: count.nullable(),
  p: p.nullable(),
  pAdjusted: p.nullable(),
  waitModel: z
    .looseObject({
      differenceMs: ms,
      intervalMs: interval,
      uncertaintyMs: z.number().min(0),
      systematicMs: z.number().min(0),
    })
    .nullable(),
  hodgesLehmann: difference.nullable(),
  differenceOfMeans: difference.nullable(),
  rankTest: z.looseObject({ relativeEffect: p, p, pAdjusted: p }).nullable(),
  paired: z
    .looseObject({
      differenceMs: ms,
      intervalMs: interval,
      clips: count,
      pairs: count,
      regions: z.array(z.looseObject({ record: z.string(), region: z.string(), baselineRegion: z.string() })),
      hodgesLehmann: difference,
      sdMs: z.number().min(0),
      jitterMs: z.number().min(0),
      jitterIntervalMs: interval,
      lag,
      p,
      equivalence,
    })
    .nullable(),
  allowed: z.array(z.string()),
});

const clip = z.looseObject({
  file: z.string(),
  sha256: z.string(),
  record: z.string(),
  report: z.string(),
  labels,
  fitness: z.enum(['fit', 'usable with care', 'unfit']),
  use: z.enum(['group', 'zero-check', 'left-out']),
  regions: z.array(
    z.looseObject({
      name: z.string(),
      labels,
      n: count,
      fixedDelayMs: ms.nullable(),
      intervalMs: interval.nullable(),
      medianMs: ms.nullable(),
    }),
  ),
});

const budget = z.looseObject({
  stages: z.array(z.looseObject({ name: z.string(), valueMs: ms, halfWidthMs: z.number().min(0) })),
  totals: z.array(
    z.looseObject({
      ...heading,
      bestMs: ms,
      typicalMs: ms,
      worstMs: ms,
      bestDisplayFrames: z.number().nullable(),
      typicalDisplayFrames: z.number().nullable(),
      worstDisplayFrames: z.number().nullable(),
      parts: z.array(
        z.looseObject({
          name: z.string(),
          kind: z.enum(['fixed-delay', 'wait', 'jitter', 'stage']),
          typicalMs: ms,
          rangeMs: interval,
        }),
      ),
    }),
  ),
});

/** The schema of a comparison file. Keys fixed by the design; further keys are let through. */
export const comparisonSchema = z.looseObject({
  format: z.literal('lagreel-comparison'),
  version: z.literal(1),
  tool: z.looseObject({ name: z.literal('lagreel'), version: z.string() }),
  marginMs: z.number().positive(),
  by: z.array(z.string()),
  baseline: labels.nullable(),
  groups: z.array(group),
  comparisons: z.array(comparison),
  betweenClips: z.looseObject({
    degreesOfFreedom: count,
    sdMs: z.number().min(0).nullable(),
    intervalMs: interval.nullable(),
    sentence: z.string(),
  }),
  zeroCheck: z.looseObject({
    status: z.enum(['passed', 'failed', 'missing']),
    clips: z.array(
      z.looseObject({
        file: z.string(),
        record: z.string(),
        region: z.string(),
        n: count,
        meanMs: ms,
        intervalMs: interval,
        passed: z.boolean(),
      }),
    ),
    sentence: z.string(),
  }),
  budget: budget.nullable(),
  clips: z.array(clip),
  warnings: z.array(z.string()),
});

/**
 * Parses the text of a comparison file.
 * @param file name for the message
 * @throws AnalysisError `record-invalid` with one sentence
 */
export function parseComparison(text: string, file: string): Comparison {
  let json: unknown;
  try {
    json = JSON.parse(text.replace(/^\ufeff/, ''));
  } catch (cause) {
    const why = cause instanceof Error ? cause.message : String(cause);
    throw new AnalysisError(
      'record-invalid',
      `${file} is not a comparison: it is not valid JSON (${why}); compare again`,
    );
  }
  const result = comparisonSchema.safeParse(json);
  if (result.success) return result.data as unknown as Comparison;
  throw new AnalysisError(
    'record-invalid',
    `${file} is not a valid comparison: ${schemaFault(result.error)}; compare again`,
  );
}
