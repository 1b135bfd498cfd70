/** Which pulse of a tube's lattice was the first of the new picture: both pictures are known, only the place is free. */
import { bandStart, pulseTable } from './pulseForm.js';
import type { PulseTrain } from './pulseTrain.js';
import type { Band } from './windows.js';

/** Frames that are surely of one picture, as index ranges (half-open). */
export type StateSpan = readonly [from: number, to: number];

/** A band of a region with the energy of its pulses in the darker and in the brighter picture. */
export interface BandStates {
  readonly band: Band;
  readonly dim: number;
  readonly bright: number;
  /** Variance of a frame about what the two states make of it. */
  readonly variance: number;
  /** Time at which pulse 0 reaches the band, and its running light. */
  readonly startT: number;
  readonly come: (t: number) => number;
}

/** Chance of each pulse to be the first of the new picture. */
export interface FirstPulse {
  readonly chances: readonly { readonly pulse: number; readonly chance: number }[];
}

// Neighbouring frames and bands share a part of what is left of them: so many count as one.
const ALIKE = 2;
// A picture may differ from the clip's usual one in brightness by this much (automatic exposure; judgement).
const BRIGHTNESS_SD = 0.1;
// Error of a pulse's caught light by the model, relative to it: half-caught pulses under a phone's tone curve.
const MISFIT = 0.15;
const LEAST_CHANCE = 1e-4;
// A band whose frames catch less than this of a pulse (mean square) holds no light to compare.
const LEAST_CAUGHT = 1e-5;

/** The bands whose pulses are seen, with the energies of both pictures. */
export function bandStates(
  region: { readonly topPx: number; readonly heightPx: number; readonly parts: readonly Band[] },
  train: PulseTrain,
  spans: { readonly dim: readonly StateSpan[]; readonly bright: readonly StateSpan[] },
  periodS: number,
): BandStates[] {
  return region.parts.flatMap((band) => {
    const startT = train.phaseT + bandStart(train.slopeT, region, band);
    const come = pulseTable(Math.abs(train.slopeT) * region.heightPx * band.extent, train.decayT);
    const light = (k: number) => allPulses(band.openS[k]! / periodS - startT, train, come);
    const dim = meanEnergy(band, spans.dim, light);
    const bright = meanEnergy(band, spans.bright, light);
    if (!dim || !bright) return [];
    const variance = Math.max(dim.variance, bright.variance) + 1e-12;
    return [{ band, dim: dim.energy, bright: bright.energy, variance, startT, come }];
  });
}

/** Light of all pulses in an exposure that opens `since` after pulse 0 started, a share of one pulse's. */
export function allPulses(
  since: number,
  train: Pick<PulseTrain, 'periodT' | 'exposure'>,
  come: (t: number) => number,
): number {
  const { periodT, exposure } = train;
  const latest = since - Math.floor((since + exposure) / periodT) * periodT;
  let sum = 0;
  for (let d = 0; d < 3; d++) sum += come(latest + d * periodT + exposure) - come(latest + d * periodT);
  return sum;
}

/** Light of the pulses from number `first` on. */
function pulsesFrom(first: number, since: number, train: PulseTrain, come: (t: number) => number): number {
  const { periodT, exposure } = train;
  const last = Math.floor((since + exposure) / periodT);
  let sum = 0;
  for (let n = Math.max(first, last - 2); n <= last; n++) {
    sum += come(since + exposure - n * periodT) - come(since - n * periodT);
  }
  return sum;
}

function meanEnergy(
  band: Band,
  spans: readonly StateSpan[],
  light: (frame: number) => number,
): { energy: number; variance: number } | null {
  let gg = 0;
  let gy = 0;
  let frames = 0;
  for (const [from, to] of spans) {
    for (let k = from; k < to; k++) {
      const g = light(k);
      gg += g * g;
      gy += g * band.signal[k]!;
      frames++;
    }
  }
  if (frames < 4 || gg < LEAST_CAUGHT * frames) return null;
  const energy = gy / gg;
  let sum = 0;
  for (const [from, to] of spans) {
    for (let k = from; k < to; k++) sum += (band.signal[k]! - energy * light(k)) ** 2;
  }
  return { energy, variance: sum / (frames - 1) };
}

/**
 * Posterior of the first pulse of the new picture, every pulse of the range alike beforehand.
 * @param frames frames to look at, half-open: they must hold no other change.
 * @param pulses first and last pulse that may be the one.
 */
export function firstPulse(
  states: readonly BandStates[],
  train: PulseTrain,
  rising: boolean,
  frames: StateSpan,
  pulses: readonly [number, number],
  periodS: number,
): FirstPulse {
  const logs: number[] = [];
  for (let n = pulses[0]; n <= pulses[1]; n++) {
    // The whole light may be a little brighter or darker than usual, with a normal prior around 1.
    const pull = 1 / BRIGHTNESS_SD ** 2;
    let [gg, gy, yy] = [pull, pull, pull];
    for (const { band, dim, bright, variance, startT, come } of states) {
      const [before, after] = rising ? [dim, bright] : [bright, dim];
      const misfit = (MISFIT * (bright - dim)) ** 2;
      for (let k = frames[0]; k < frames[1]; k++) {
        const since = band.openS[k]! / periodS - startT;
        const late = pulsesFrom(n, since, train, come);
        const all = allPulses(since, train, come);
        const g = before * (all - late) + after * late;
        const w = 1 / (ALIKE * variance + misfit * all * all);
        const y = band.signal[k]!;
        gg += w * g * g;
        gy += w * g * y;
        yy += w * y * y;
      }
    }
    logs.push(-0.5 * (yy - (gy * gy) / gg));
  }
  const top = Math.max(...logs);
  const total = logs.reduce((sum, l) => sum + Math.exp(l - top), 0);
  const chances = logs
    .map((l, i) => ({ pulse: pulses[0] + i, chance: Math.exp(l - top) / total }))
    .filter((c) => c.chance > LEAST_CHANCE);
  return { chances };
}
