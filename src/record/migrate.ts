/** Brings recipes and records of earlier format versions to the present one, step by step. */

/** JSON as it stands in a file. */
export type StoredJson = Readonly<Record<string, unknown>>;

/**
 * Steps from one format version to the next: step 0 makes version 2 out of version 1, step 1 makes 3 out of 2, and so
 * on. A pure function each, with files of its version kept in `tests/record/earlier/` for ever.
 */
export type Migrations = readonly ((stored: StoredJson) => StoredJson)[];

// Version 1 is the present one of both. It has only grown since: keys that came later are optional in the schemas.
/** Steps of recipes. */
export const RECIPE_MIGRATIONS: Migrations = [];
/** Steps of records; a record holds a recipe, which is brought along by its own steps. */
export const RECORD_MIGRATIONS: Migrations = [];

/** The present version of a format, by its steps. */
export function presentVersion(steps: Migrations): number {
  return steps.length + 1;
}

/**
 * Brings a file's JSON to the present version.
 * @param kind for the sentence, `recipe` or `record`.
 * @param refuse makes the error out of the rest of a sentence that begins with the file's name.
 * @returns the same JSON where it is of the present version or names none; the schema judges it then.
 * @throws what `refuse` makes, where the version is newer than the present one.
 */
export function toPresentVersion(
  json: StoredJson,
  kind: string,
  steps: Migrations,
  refuse: (why: string) => Error,
): StoredJson {
  const present = presentVersion(steps);
  const { version } = json;
  if (typeof version !== 'number') return json;
  if (version > present) {
    const reads = present === 1 ? 'version 1' : `versions 1 to ${present}`;
    throw refuse(`has ${kind} version ${version}, and this lagreel reads ${reads}: use a newer lagreel`);
  }
  if (!Number.isInteger(version) || version < 1) return json;
  return steps
    .slice(version - 1)
    .reduce<StoredJson>((stored, step, i) => ({ ...step(stored), version: version + i + 1 }), json);
}
