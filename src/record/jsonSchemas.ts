/** JSON Schema (2020-12) of the files, from the same schemas that read them. */
import * as z from 'zod';
import { comparisonSchema } from './comparisonSchema.js';
import { recipeSchema } from './parseRecipe.js';
import { recordSchema } from './parseRecord.js';

/** A JSON Schema document. */
export type JsonSchema = Readonly<Record<string, unknown>>;

/** Schemas by kind of file. That of the recipe describes what may be written: keys with a default may be left out. */
export function jsonSchemas(): Readonly<Record<'recipe' | 'record' | 'comparison', JsonSchema>> {
  const titled = (schema: z.ZodType, title: string): JsonSchema => ({
    title,
    ...z.toJSONSchema(schema, { io: 'input' }),
  });
  return {
    recipe: titled(recipeSchema, 'lagreel recipe'),
    record: titled(recordSchema, 'lagreel record'),
    comparison: titled(comparisonSchema, 'lagreel comparison'),
  };
}
