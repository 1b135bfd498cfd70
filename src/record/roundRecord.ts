/** Rounds a record's numbers at stated steps, so that equal measurements give equal bytes on every machine. */
import type { ClipRecord } from './record.js';

// Steps well below every uncertainty: 1 microsecond in times, 0.1 microsecond in ms values.
const DECIMALS: readonly (readonly [RegExp, number])[] = [
  [/S$/, 7],
  [/Ms$/, 4],
  [/(Hz|Fraction|Confidence|Interval)$/, 6],
];

/** A copy with every derived number rounded; the recipe is kept as it is. Non-finite numbers are a fault. */
export function roundRecord(record: ClipRecord): ClipRecord {
  const { recipe, ...rest } = record;
  const rounded = roundValue(rest, '') as Omit<ClipRecord, 'recipe'>;
  const { format, version, tool, clip, ...others } = rounded;
  return { format, version, tool, clip, recipe, ...others };
}

function roundValue(value: unknown, key: string): unknown {
  if (typeof value === 'number') {
    if (!Number.isFinite(value)) throw new Error(`the record's ${key} is not a finite number`);
    const decimals = DECIMALS.find(([pattern]) => pattern.test(key))?.[1] ?? 6;
    const result = Number(value.toFixed(decimals));
    return Object.is(result, -0) ? 0 : result;
  }
  if (Array.isArray(value)) return value.map((v) => roundValue(v, key));
  if (typeof value === 'object' && value !== null) {
    return Object.fromEntries(Object.entries(value).map(([k, v]) => [k, roundValue(v, k)]));
  }
  return value;
}
