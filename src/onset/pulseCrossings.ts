/** Where a tube's picture changed, pulse by pulse: with the lattice known, each pulse has an energy of its own. */
import { bandStart, pulseTable } from './pulseForm.js';
import { LEAST_SEEN } from './pulseStates.js';
import type { PulseTrain } from './pulseTrain.js';
import type { Band, Crossing } from './windows.js';

// Two levels of pulses must be this far apart, in scatter of a pulse about its level.
const LEAST_CONTRAST = 6;
const FEWEST_PULSES = 12;

interface PulseEnergy {
  readonly pulse: number;
  readonly energy: number;
}

/**
 * Changes between two levels of pulse energy over the whole clip, in time order.
 * @param region parts scaled so that the change reads the same step in each of them.
 * @returns null where the pulses do not fall into two clear levels.
 */
export function pulseCrossings(
  region: { readonly topPx: number; readonly heightPx: number; readonly parts: readonly Band[] },
  train: PulseTrain,
  periodS: number,
): Crossing[] | null {
  const pulses = pulseEnergies(region, train, periodS);
  if (pulses.length < FEWEST_PULSES) return null;
  const levels = twoLevels(pulses.map((p) => p.energy));
  if (levels.contrast < LEAST_CONTRAST) return null;
  const at = (share: number) => levels.low + share * (levels.high - levels.low);
  const openS = region.parts[region.parts.length >> 1]!.openS;
  const middleT = train.phaseT + train.slopeT * (region.topPx + region.heightPx / 2);
  const crossings: Crossing[] = [];
  let bright = pulses[0]!.energy > at(0.5);
  for (const { pulse, energy } of pulses) {
    const turns = bright ? energy < at(0.35) : energy > at(0.65);
    if (!turns) continue;
    bright = !bright;
    const atS = (middleT + pulse * train.periodT) * periodS;
    const next = openS.findIndex((t) => t > atS);
    crossings.push({ frame: Math.max(0, (next < 0 ? openS.length : next) - 1), sign: bright ? 1 : -1 });
  }
  return crossings;
}

function pulseEnergies(
  region: { readonly topPx: number; readonly heightPx: number; readonly parts: readonly Band[] },
  { phaseT, slopeT, decayT, periodT, exposure }: PulseTrain,
  periodS: number,
): PulseEnergy[] {
  const sums = new Map<number, { gg: number; ge: number }>();
  for (const band of region.parts) {
    const come = pulseTable(Math.abs(slopeT) * region.heightPx * band.extent, decayT);
    const startT = phaseT + bandStart(slopeT, region, band);
    const own = new Map<number, { gg: number; gy: number }>();
    for (let k = 0; k < band.openS.length; k++) {
      const since = band.openS[k]! / periodS - startT;
      const last = Math.floor((since + exposure) / periodT);
      for (let n = last - 1; n <= last; n++) {
        const g = come(since + exposure - n * periodT) - come(since - n * periodT);
        if (g < 1e-3) continue;
        const sum = own.get(n) ?? { gg: 0, gy: 0 };
        sum.gg += g * g;
        sum.gy += g * band.signal[k]!;
        own.set(n, sum);
      }
    }
    // Bands differ in the light that they have anyway; their lower quartile is of the same state in all of them.
    const most = Math.max(...[...own.values()].map((s) => s.gg));
    const energies = [...own.values()].filter((s) => s.gg > LEAST_SEEN * most).map((s) => s.gy / s.gg);
    const base = energies.sort((a, b) => a - b)[energies.length >> 2] ?? 0;
    for (const [n, { gg, gy }] of own) {
      const sum = sums.get(n) ?? { gg: 0, ge: 0 };
      sum.gg += gg;
      sum.ge += gy - base * gg;
      sums.set(n, sum);
    }
  }
  const most = Math.max(...[...sums.values()].map((s) => s.gg));
  return [...sums]
    .filter(([, s]) => s.gg > LEAST_SEEN * most)
    .map(([pulse, s]) => ({ pulse, energy: s.ge / s.gg }))
    .sort((a, b) => a.pulse - b.pulse);
}

/** Two levels by two-means, started at the extremes, and their distance over the scatter about them. */
export function twoLevels(values: readonly number[]): { low: number; high: number; contrast: number } {
  const sorted = [...values].sort((a, b) => a - b);
  let low = sorted[Math.floor(0.02 * (sorted.length - 1))]!;
  let high = sorted[Math.ceil(0.98 * (sorted.length - 1))]!;
  for (let i = 0; i < 20; i++) {
    const middle = (low + high) / 2;
    const below = sorted.filter((v) => v < middle);
    const above = sorted.filter((v) => v >= middle);
    if (below.length === 0 || above.length === 0) break;
    low = below.reduce((a, b) => a + b, 0) / below.length;
    high = above.reduce((a, b) => a + b, 0) / above.length;
  }
  const middle = (low + high) / 2;
  const off = sorted.map((v) => Math.abs(v - (v < middle ? low : high))).sort((a, b) => a - b);
  const scatter = 1.48 * off[off.length >> 1]!;
  return { low, high, contrast: high > low ? (high - low) / Math.max(scatter, 1e-12) : 0 };
}
