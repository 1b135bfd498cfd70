/** LED edges that are not like the others: something passed over the LED, or moved it in the picture. */
import type { Crossing } from './windows.js';

// Shares of the LED's step. The dark side of an edge depends on the room only; the bright side also on the exposure,
// which phones change by up to about a half.
const DARK_OFF = 0.15;
const BRIGHT_LEAST = 0.6;
const BRIGHT_MOST = 1.7;
// What the exposure does it does to the dark side as well: beyond that the bright side is off by less than this, or by less
// than so many times the edges' own median distance (the LED moves in the picture).
const BRIGHT_OFF = 0.22;
const OUT_OF_SCATTER = 6;
// A dark side below this share of the step says nothing about the exposure.
const LEAST_DARK = 0.02;
// Frames nearer to the middle than this are on their way.
const NEARLY = 0.12;
const UNREST = 0.1;
// A light that switches is through within a few ms, slow drivers within 8, of which the middle takes 6; a thumb's edge takes
// 15 and more to pass, its middle 11.
const SLOWEST_LED_S = 0.0085;
/** Frames that an instant edge may seem to be on its way: its own, and what is left of that in the next. */
const INSTANT_FRAMES = 1.5;
const LEAST_EDGES = 5;

interface EdgeLook {
  readonly dark: number;
  readonly bright: number;
  readonly transitFrames: number;
  /** Middle 80 % of the plateaus' frames, the wider one. */
  readonly unrest: number;
}

/** What takes longer is no light that switches, s. */
export function slowestLedS(periodS: number): number {
  return SLOWEST_LED_S + INSTANT_FRAMES * periodS;
}

/**
 * Whether each crossing differs from the clip's usual edge in its plateaus or takes much longer. An odd edge is no
 * evidence on the LED's form, the exposure, or a press. Fewer than five edges have no usual one: none is odd,
 * unless all are slower than any LED.
 * `usualUnrest` is the median range of the plateaus (share of the step): large for an LED that is dimmed by pulses and
 * seen through a short exposure.
 * @param signal the LED's projected light; `low` and `high` its two levels.
 */
export function oddEdges(
  signal: Float64Array,
  { low, high }: { readonly low: number; readonly high: number },
  crossings: readonly Crossing[],
  plateauFrames: number,
  periodS: number,
): { readonly odd: readonly boolean[]; readonly usualUnrest: number } {
  const looks = crossings.map((_, i) => lookAt(signal, low, high, crossings, i, plateauFrames));
  const usualDark = median(looks.map((l) => l.dark));
  const usualBright = median(looks.map((l) => l.bright));
  const brightOff = brightBeyondExposure(looks, low / (high - low));
  const usualUnrest = median(looks.map((l) => l.unrest));
  const usualTransit = median(looks.map((l) => l.transitFrames));
  // What takes this long is no light that switches, but something that passes over a light too dim to be seen.
  if (usualTransit * periodS > slowestLedS(periodS)) return { odd: crossings.map(() => true), usualUnrest };
  if (crossings.length < LEAST_EDGES) return { odd: crossings.map(() => false), usualUnrest };
  const odd = looks.map(
    ({ dark, bright, transitFrames, unrest }, i) =>
      brightOff[i]! > BRIGHT_OFF ||
      Math.abs(dark - usualDark) > DARK_OFF ||
      bright < BRIGHT_LEAST * usualBright ||
      bright > BRIGHT_MOST * usualBright ||
      transitFrames > 2 * usualTransit + 3 ||
      unrest > 3 * usualUnrest + UNREST,
  );
  return { odd, usualUnrest };
}

/**
 * How far each edge's bright side is from the usual one, less what its scatter explains: with the exposure taken out as
 * far as the dark side shows it, and as it came, whichever is nearer. All 0 where the dark side is black.
 * @param blackShare light of the dark level over the step.
 */
function brightBeyondExposure(looks: readonly EdgeLook[], blackShare: number): readonly number[] {
  const usualDark = median(looks.map((l) => l.dark)) + blackShare;
  if (usualDark < LEAST_DARK) return looks.map(() => 0);
  const offs = (values: readonly number[]) => {
    const usual = median([...values]);
    const off = values.map((v) => Math.abs(v / usual - 1));
    const scatter = OUT_OF_SCATTER * median(off);
    return off.map((o) => (o > scatter ? o : 0));
  };
  const asItCame = offs(looks.map((l) => l.bright + blackShare));
  const withoutGain = offs(
    looks.map((l) => ((l.bright + blackShare) * usualDark) / Math.max(LEAST_DARK, l.dark + blackShare)),
  );
  return looks.map((_, i) => Math.min(asItCame[i]!, withoutGain[i]!));
}

function lookAt(
  signal: Float64Array,
  low: number,
  high: number,
  crossings: readonly Crossing[],
  index: number,
  plateauFrames: number,
): EdgeLook {
  const { frame, sign } = crossings[index]!;
  const previous = crossings[index - 1]?.frame ?? 0;
  const next = crossings[index + 1]?.frame ?? signal.length;
  const share = (k: number) => (signal[k]! - low) / (high - low);
  const level = (from: number, to: number, otherwise: number): { middle: number; range: number } => {
    const values: number[] = [];
    for (let k = Math.max(0, from); k < Math.min(signal.length, to); k++) values.push(share(k));
    if (values.length === 0) return { middle: otherwise, range: 0 };
    values.sort((a, b) => a - b);
    const at = (part: number) => values[Math.round(part * (values.length - 1))]!;
    return { middle: at(0.5), range: at(0.9) - at(0.1) };
  };
  const early = level(Math.max(previous + 2, frame - 2 - plateauFrames), frame - 2, sign > 0 ? 0 : 1);
  const late = level(frame + 3, Math.min(next - 1, frame + 3 + plateauFrames), sign > 0 ? 1 : 0);
  const before = early.middle;
  const after = late.middle;
  const onWay = (k: number): boolean => {
    const s = (share(k) - before) / (after - before);
    return s > NEARLY && s < 1 - NEARLY;
  };
  let first = frame;
  while (first - 1 > previous && onWay(first - 1)) first--;
  let last = frame;
  while (last < next && last < signal.length && onWay(last)) last++;
  return {
    dark: sign > 0 ? before : after,
    bright: sign > 0 ? after : before,
    transitFrames: last - first,
    unrest: Math.max(early.range, late.range),
  };
}

function median(values: number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[sorted.length >> 1] ?? 0;
}
