/** Rates at which lit frames may beat together: the strongest lines near the stated refresh, or of all possible ones. */
import { goldenSection } from '../numeric/minimise.js';

/** Where nobody says how often a display refreshes, it is thought of as most do (common practice, no source). */
export const UNSTATED_REFRESH_HZ = 60;

const LOWEST_HZ = 45;
const HIGHEST_HZ = 130;
const STATED_REACH = 0.005;
// Lines of more than this share of the strongest may be the true one and its mirror image (about half the capture rate).
const NEARLY_EQUAL = 0.75;
// Share of the light that a line of a rate which is not stated must explain.
const LEAST_POWER = 0.15;
// Refresh rates that displays have (common practice, no source), Hz, and how far theirs may lie from them.
const USUAL_HZ = [50, 60, 72, 75, 85, 90, 100, 120, 144, 165] as const;
const USUAL_REACH = 0.003;

/**
 * Frequencies at which the lit frames beat together over the whole clip, Hz; the best first, none where there is no beat.
 * @param timesT start of exposure of each frame, capture periods.
 * @param withImages whether, without a stated rate, those that displays have are thought of that the frames show alike.
 */
export function strongestBeats(
  timesT: Float64Array,
  values: Float64Array,
  rateHz: number,
  statedHz: number | null,
  withImages = false,
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
  const hasBeat = top >= (statedHz === null ? LEAST_POWER : 0.06);
  if (!hasBeat && statedHz !== null) return [];
  const peaks = lines.filter(
    (p, i) =>
      p.power > NEARLY_EQUAL * top &&
      p.power >= (lines[i - 1]?.power ?? 0) &&
      p.power >= (lines[i + 1]?.power ?? 0),
  );
  // Without a statement the lowest of nearly equal lines is the fundamental one.
  const sharpen = (hz: number) => goldenSection((f) => -powerAt(f), hz - step, hz + step, step / 500).x;
  if (statedHz === null) {
    const lowest = hasBeat ? peaks.slice(0, 1).map((p) => sharpen(p.hz)) : [];
    if (!withImages) return lowest;
    const least = Math.max(LEAST_POWER, hasBeat ? NEARLY_EQUAL * top : 0);
    return [...lowest, ...usualRates(powerAt, least, step, lowest).map(sharpen)];
  }
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

/**
 * Frames show a rate as they show its mirror images about the multiples of half the capture rate, of which displays may have
 * one that lies outside the range; to within a step.
 */
function usualRates(
  powerAt: (hz: number) => number,
  leastPower: number,
  stepHz: number,
  known: readonly number[],
): number[] {
  return USUAL_HZ.flatMap((usualHz) => {
    const reach = USUAL_REACH * usualHz;
    if (known.some((hz) => Math.abs(hz - usualHz) < reach)) return [];
    let best = usualHz as number;
    for (let hz = usualHz - reach; hz <= usualHz + reach; hz += stepHz)
      if (powerAt(hz) > powerAt(best)) best = hz;
    // Light that does not change has no power at all (0 over 0).
    return powerAt(best) >= leastPower ? [best] : [];
  });
}
