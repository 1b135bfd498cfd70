/** Numbers in words for people: decimals follow the uncertainty, units are always there. */

/**
 * Decimals worth printing for a quantity whose expanded uncertainty is `expandedMs`: one digit of the uncertainty
 * where it is 0.5 or more, else two significant digits (JCGM 100:2008 7.2.6: at most two), never more than 3.
 */
export function decimalsFor(expandedMs: number): number {
  if (!Number.isFinite(expandedMs) || expandedMs >= 0.5) return 1;
  return expandedMs >= 0.05 ? 2 : 3;
}

/** A number with fixed decimals and no minus zero; `n/a` where it is not finite. */
export function fixed(value: number, decimals: number): string {
  if (!Number.isFinite(value)) return 'n/a';
  const text = value.toFixed(decimals);
  return /^-0(?:\.0*)?$/.test(text) ? text.slice(1) : text;
}

/**
 * A number for drawing or a file: at most `decimals` decimals, no trailing zeros, no exponent for |value| < 1e21.
 * Throws nothing; a value that is not finite becomes `0`, so that a picture stays valid.
 */
export function short(value: number, decimals = 3): string {
  if (!Number.isFinite(value)) return '0';
  const scale = 10 ** decimals;
  const rounded = Math.round(value * scale) / scale;
  return String(rounded === 0 ? 0 : rounded);
}

/** `68.4 ms`; decimals default to 1. */
export function msText(valueMs: number, decimals = 1): string {
  return `${fixed(valueMs, decimals)} ms`;
}

/** `59.2 to 60.9 ms`. */
export function intervalText(intervalMs: readonly [number, number], decimals = 1): string {
  return `${fixed(intervalMs[0], decimals)} to ${fixed(intervalMs[1], decimals)} ms`;
}

/** Decimals for a value with a 95 % interval. */
export function decimalsForInterval(intervalMs: readonly [number, number]): number {
  return decimalsFor((intervalMs[1] - intervalMs[0]) / 2);
}

/**
 * `68.4 ± 0.9 ms`: a value with its expanded uncertainty U = 2 u.
 * `uncertaintyMs` is the standard uncertainty (k = 1), ms.
 */
export function withUncertainty(valueMs: number, uncertaintyMs: number): string {
  const decimals = decimalsFor(2 * uncertaintyMs);
  return `${fixed(valueMs, decimals)} ± ${fixed(2 * uncertaintyMs, decimals)} ms`;
}

/** `1 press`, `12 presses`. */
export function counted(count: number, one: string, many: string): string {
  return `${count} ${count === 1 ? one : many}`;
}

/** Bytes for people, decimal prefixes (SI): `1.23 MB`. */
export function bytesText(bytes: number): string {
  if (bytes < 1000) return counted(bytes, 'byte', 'bytes');
  if (bytes < 1e6) return `${fixed(bytes / 1e3, 1)} kB`;
  return bytes < 1e9 ? `${fixed(bytes / 1e6, 1)} MB` : `${fixed(bytes / 1e9, 2)} GB`;
}
