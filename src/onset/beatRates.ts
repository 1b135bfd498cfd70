/** Rates at which lit frames may beat together: the strongest lines near the stated refresh, or of all possible ones. */
import { goldenSection } from '../numeric/minimise.js';

const LOWEST_HZ = 45;
const HIGHEST_HZ = 130;
const STATED_REACH = 0.005;
// Lines of more than this share of the strongest may be the true one and its mirror image (about half the capture rate).
const NEARLY_EQUAL = 0.75;

/**
 * Frequencies at which the lit frames beat together over the whole clip, Hz; the best first, none where there is no beat.
 * @param timesT start of exposure of each frame, capture periods.
 */
export function strongestBeats(
  timesT: Float64Array,
  values: Float64Array,
  rateHz: number,
  statedHz: number | null,
): number[] {
  const mean = values.reduce((a, b) => a + b, 0) / values.length;
  let energy = 0;
  for (const v of values) energy += (v - mean) ** 2;
  const spanS = (timesT[timesT.length - 1]! - timesT[0]!) / rateHz;
  const step = 0.2 / Math.max(0.5, spanS);
  const from = statedHz === null ? LOWEST_HZ : statedHz * (1 - STATED_REACH);
  const to = statedHz === null ? Math.min(HIGHEST_HZ, 0.48 * rateHz) : statedHz * (1 + STATED_REACH);
  const powerAt = (hz: number): number => {
    let re = 0;
    let im = 0;
    const w = (2 * Math.PI * hz) / rateHz;
    for (let i = 0; i < values.length; i++) {
      re += (values[i]! - mean) * Math.cos(w * timesT[i]!);
      im += (values[i]! - mean) * Math.sin(w * timesT[i]!);
    }
    return (2 * (re * re + im * im)) / (values.length * energy);
  };
  const lines: { hz: number; power: number }[] = [];
  for (let hz = from; hz <= to; hz += step) lines.push({ hz, power: powerAt(hz) });
  const top = Math.max(...lines.map((p) => p.power));
  // A stated rate leaves little room for chance; half of the pulses may fall behind closed shutters.
  // Light that does not change at all has no beat (0 over 0).
  if (!(top >= (statedHz === null ? 0.15 : 0.06))) return [];
  const peaks = lines.filter(
    (p, i) =>
      p.power > NEARLY_EQUAL * top &&
      p.power >= (lines[i - 1]?.power ?? 0) &&
      p.power >= (lines[i + 1]?.power ?? 0),
  );
  // Without a statement the lowest of nearly equal lines is the fundamental one.
  const sharpen = (hz: number) => goldenSection((f) => -powerAt(f), hz - step, hz + step, step / 500).x;
  if (statedHz === null) return peaks.slice(0, 1).map((p) => sharpen(p.hz));
  // About half of the capture rate (and its multiples) a rate and its mirror image look alike; rows tell them apart.
  const fold = (Math.round((2 * statedHz) / rateHz) * rateHz) / 2;
  const found: number[] = [];
  for (const { hz } of peaks) {
    for (const candidate of [sharpen(hz), 2 * fold - sharpen(hz), statedHz]) {
      if (candidate < from - step || candidate > to + step) continue;
      if (found.every((f) => Math.abs(f - candidate) > step)) found.push(candidate);
    }
  }
  return found.sort((a, b) => Math.abs(a - statedHz) - Math.abs(b - statedHz)).slice(0, 3);
}
