/** Reads and completes recipes: strict about unknown keys, because a misspelt decision must not be lost in silence. */
import * as z from 'zod';
import { AnalysisError } from '../errors.js';
import { VIDEO_MODE_NAMES, videoMode } from '../numeric/videoTiming.js';
import { RECIPE_MIGRATIONS, type StoredJson, toPresentVersion } from './migrate.js';
import type { Recipe } from './recipe.js';
import { schemaFault } from './schemaFault.js';

const pixel = z.number().int().min(0).max(65_535);
const labels = z.record(z.string(), z.string());
const nullableRate = z.number().positive().max(100_000).nullable();
/** As `--refresh`: a display that is drawn anew less than once a second would make endless waits to look through. */
const nullableRefresh = z.number().min(1).max(1000).nullable();
const share = z.number().gt(0).max(1).nullable();

const regionSchema = z.strictObject({
  name: z.string().min(1).max(100),
  role: z.enum(['led', 'screen', 'reference']),
  x: pixel,
  y: pixel,
  width: pixel.min(2),
  height: pixel.min(2),
  labels: labels.optional(),
});

const scanSchema = z
  .strictObject({
    topPx: pixel,
    bottomPx: pixel,
    mode: z
      .string()
      .refine((name) => videoMode(name) !== null, `must be one of ${VIDEO_MODE_NAMES}`)
      .optional(),
  })
  .refine((scan) => scan.topPx < scan.bottomPx, 'topPx must be less than bottomPx');

/** The schema of a recipe file; keys left out mean "work it out". */
export const recipeSchema = z.strictObject({
  format: z.literal('lagreel-recipe'),
  version: z.literal(1),
  clip: z
    .strictObject({
      file: z.string(),
      sha256: z.string().regex(/^([0-9a-f]{64})?$/),
      bytes: z.number().int().min(0),
    })
    .default({ file: '', sha256: '', bytes: 0 }),
  labels: labels.default({}),
  regions: z.array(regionSchema).max(64).default([]),
  capture: z
    .strictObject({
      rateHz: nullableRate.default(null),
      exposureFraction: share.default(null),
      readoutFraction: z.number().min(0).max(1).nullable().default(null),
    })
    .default({ rateHz: null, exposureFraction: null, readoutFraction: null }),
  display: z
    .strictObject({ refreshHz: nullableRefresh.default(null), scan: scanSchema.optional() })
    .default({ refreshHz: null }),
  cue: z
    .strictObject({
      edge: z.enum(['press', 'release']).default('press'),
      delayMs: z.number().min(-1000).max(1000).default(0),
      delayUncertaintyMs: z.number().min(0).max(1000).default(0),
    })
    .default({ edge: 'press', delayMs: 0, delayUncertaintyMs: 0 }),
  response: z
    .strictObject({
      level: z.number().gt(0).lt(1).default(0.1),
      windowMs: z
        .tuple([z.number().min(-1000).max(10_000), z.number().min(1).max(10_000)])
        .refine(([from, to]) => from < to, 'must begin before it ends')
        .default([0, 500]),
    })
    .default({ level: 0.1, windowMs: [0, 500] }),
  decisions: z
    .array(
      z.strictObject({
        pressAtS: z.number().min(0),
        decision: z.enum(['exclude', 'restore']),
        reason: z.string().min(1).max(1000),
      }),
    )
    .max(100_000)
    .default([]),
});

/** A recipe with nothing decided, for a clip. */
export function emptyRecipe(clip: Recipe['clip']): Recipe {
  return recipeSchema.parse({ format: 'lagreel-recipe', version: 1, clip }) as Recipe;
}

/**
 * Parses the text of a recipe file.
 * @param file name for the message.
 * @throws AnalysisError `recipe-invalid` with one sentence: where the fault is and what is expected there.
 */
export function parseRecipe(text: string, file: string): Recipe {
  const refuse = (why: string) => new AnalysisError('recipe-invalid', `${file} ${why}`);
  let json: unknown;
  try {
    // Some editors put a byte-order mark in front.
    json = JSON.parse(text.replace(/^\ufeff/, ''));
  } catch (cause) {
    const why = cause instanceof Error ? cause.message : String(cause);
    throw refuse(`is not a recipe: it is not valid JSON (${why}); mend it there, or set it aside`);
  }
  const { format } = (json ?? {}) as { readonly format?: unknown };
  if (format !== 'lagreel-recipe') {
    const is =
      typeof format === 'string' ? `its "format" is ${JSON.stringify(format)}` : 'it has no "format"';
    throw refuse(`is not a recipe: ${is}, expected "lagreel-recipe"; give a NAME.recipe.json`);
  }
  const present = toPresentVersion(json as StoredJson, 'recipe', RECIPE_MIGRATIONS, refuse);
  const result = recipeSchema.safeParse(present);
  if (result.success) return result.data as Recipe;
  throw refuse(`is not a valid recipe: ${schemaFault(result.error)}; correct or remove it`);
}
