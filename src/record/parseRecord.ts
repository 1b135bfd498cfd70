/** Reads records: keys that a later version adds pass, values that a comparison relies on are checked. */
import * as z from 'zod';
import { AnalysisError } from '../errors.js';
import { RECIPE_MIGRATIONS, RECORD_MIGRATIONS, type StoredJson, toPresentVersion } from './migrate.js';
import { recipeSchema } from './parseRecipe.js';
import type { ClipRecord } from './record.js';
import { schemaFault } from './schemaFault.js';

/** A thousand seconds: no window, no delay and no uncertainty of a record comes near; beyond it sums lose their digits. */
const MOST_MS = 1e6;
const ms = z.number().min(-MOST_MS).max(MOST_MS);
const uncertaintyMs = z.number().min(0).max(MOST_MS);
const interval = z.tuple([ms, ms]);
const count = z.number().int().min(0);
const flags = z.array(z.string());

const budgetSchema = z.looseObject({
  name: z.string(),
  standardUncertaintyMs: uncertaintyMs,
  type: z.enum(['A', 'B']),
  common: z.boolean(),
});

const responseSchema = z.looseObject({
  region: z.string(),
  status: z.enum(['measured', 'no-response', 'ambiguous']),
  firstLightS: z.number().optional(),
  onsetS: z.number().optional(),
  halfS: z.number().optional(),
  settledS: z.number().optional(),
  latencyMs: ms.optional(),
  uncertaintyMs: uncertaintyMs.optional(),
  intervalMs: interval.optional(),
  flags,
  budget: z.array(budgetSchema).optional(),
});

const pressSchema = z.looseObject({
  index: z.number().int().min(1),
  ledOnsetS: z.number(),
  ledOnsetUncertaintyMs: uncertaintyMs,
  status: z.enum(['measured', 'no-response', 'ambiguous', 'excluded']),
  reason: z.string().optional(),
  flags,
  responses: z.array(responseSchema),
});

const waitModelSchema = z.looseObject({
  model: z.enum(['no-wait', 'one-refresh', 'jitter']),
  fixedDelayMs: ms,
  intervalMs: interval,
  jitterMs: uncertaintyMs,
  jitterIntervalMs: interval,
  periodMs: uncertaintyMs,
  periodSource: z.enum(['stated', 'measured', 'assumed', 'none']),
  lag: z.enum(['fixed', 'variable', 'undecided']),
  bic: z.record(z.string(), z.number()),
  warnings: z.array(z.string()),
});

const summarySchema = z.looseObject({
  n: count,
  minimumMs: ms,
  maximumMs: ms,
  medianMs: ms,
  medianIntervalMs: interval.nullable(),
  medianConfidence: z.number().nullable(),
  meanMs: ms,
  sdMs: uncertaintyMs.nullable(),
  quantilesMs: z.looseObject({ p05: ms, p25: ms, p75: ms, p95: ms }),
  displayFrameMs: z.number().positive().max(MOST_MS).nullable(),
  responseTimeMs: ms.nullable(),
  light: z.enum(['held', 'pulsed']).optional(),
  waitModel: waitModelSchema.nullable(),
  commonUncertaintyMs: uncertaintyMs,
  verdict: z.string(),
});

/** The schema of a record file. Keys fixed by the design; further keys are let through. */
export const recordSchema = z.looseObject({
  format: z.literal('lagreel-record'),
  version: z.literal(1),
  tool: z.looseObject({ name: z.literal('lagreel'), version: z.string(), ffmpeg: z.string() }),
  clip: z.looseObject({
    file: z.string(),
    sha256: z.string(),
    bytes: count,
    width: z.number().int().positive(),
    height: z.number().int().positive(),
    frames: count,
    durationS: z.number().min(0),
    codec: z.string(),
    container: z.string(),
    rotationDeg: z.number(),
    pixelFormat: z.string(),
    range: z.string(),
    transfer: z.string(),
  }),
  recipe: recipeSchema,
  timing: z.looseObject({
    captureRateHz: z.number().positive(),
    source: z.string(),
    timeBase: z.tuple([count, count]),
    droppedFrames: count,
    doubledFrames: count,
    exposureFraction: z.number().nullable(),
    exposureFractionInterval: interval.nullable(),
    exposureSource: z.enum(['stated', 'measured', 'assumed']),
    readoutFraction: z.number().nullable(),
    readoutSource: z.enum(['stated', 'calibrated', 'display', 'unknown']),
    tickMs: z.number().min(0),
    irregularityMs: z.number().min(0),
    toneBend: z.number().nullable().optional(),
    toneBendUncertainty: z.number().min(0).nullable().optional(),
  }),
  fitness: z.looseObject({
    class: z.enum(['fit', 'usable with care', 'unfit']),
    reasons: z.array(
      z.looseObject({ code: z.string(), severity: z.enum(['note', 'care', 'unfit']), text: z.string() }),
    ),
    evidence: z
      .record(
        z.string(),
        z.looseObject({
          contrast: z.number().nullable(),
          rippleHz: z.number().nullable(),
          rippleDepth: z.number().nullable(),
          shakePx: z.number().nullable(),
          clippedShare: z.number(),
        }),
      )
      .optional(),
  }),
  presses: z.array(pressSchema),
  unprompted: z.array(z.looseObject({ region: z.string(), onsetS: z.number() })),
  summary: z.record(z.string(), summarySchema),
  scanout: z
    .looseObject({
      msPerPx: z.number(),
      msPerPxUncertainty: z.number().min(0),
      direction: z.enum(['down', 'up', 'at-once']),
      topToBottomMs: ms,
      presses: count,
    })
    .nullable()
    .optional(),
  warnings: z.array(z.string()),
  found: z.looseObject({ regions: z.array(z.string()), edgeGiven: z.enum(['press', 'release']) }).optional(),
});

/**
 * Parses the text of a record file.
 * @param file name for the message
 * @throws AnalysisError `record-invalid` with one sentence: where the fault is and what to do
 */
export function parseRecord(text: string, file: string): ClipRecord {
  const refuse = (why: string) => new AnalysisError('record-invalid', `${file} ${why}`);
  let json: unknown;
  try {
    json = JSON.parse(text.replace(/^\ufeff/, ''));
  } catch (cause) {
    const why = cause instanceof Error ? cause.message : String(cause);
    throw refuse(`is not a record: it is not valid JSON (${why}); measure the clip again`);
  }
  const { format } = (json ?? {}) as { readonly format?: unknown };
  if (format !== 'lagreel-record') {
    const is =
      typeof format === 'string' ? `its "format" is ${JSON.stringify(format)}` : 'it has no "format"';
    throw refuse(`is not a record: ${is}, expected "lagreel-record"; give a NAME.record.json`);
  }
  const present = toPresentVersion(json as StoredJson, 'record', RECORD_MIGRATIONS, refuse);
  const recipe = asObject(present.recipe);
  const withRecipe = recipe
    ? { ...present, recipe: toPresentVersion(recipe, 'recipe', RECIPE_MIGRATIONS, refuse) }
    : present;
  const result = recordSchema.safeParse(withRecipe);
  if (result.success) return result.data as unknown as ClipRecord;
  throw refuse(`is not a valid record: ${schemaFault(result.error)}; measure the clip again`);
}

function asObject(value: unknown): StoredJson | null {
  return typeof value === 'object' && value !== null && !Array.isArray(value) ? (value as StoredJson) : null;
}
