/** Draws from the posterior of a lattice's form, and what they say together. */
import { seededRandom } from '../numeric/seededRandom.js';
import type { PulseForm } from './pulseForm.js';

const DRAWS = 3200;
const KEEP_EVERY = 12;
const LEARN_EVERY = 200;
/** A backlight that flashes longer than this part of a refresh would be a dimmed one (common practice, no source). */
export const LONGEST_FLASH = 0.4;

/** What is known of the shutter before the light is looked at. */
interface KnownShutter {
  readonly exposure: number;
  readonly exposureSd: number;
}

/** A posterior in short: its means, the spread of the exposure, and some draws. */
export interface DrawnForm extends PulseForm {
  readonly exposureSd: number;
  readonly draws: readonly PulseForm[];
}

/**
 * Metropolis draws around the best form (JCGM 101 needs the distribution where the model is not linear): locked to the
 * camera, frames leave ranges of forms that explain them alike. Slope, decay and shutter pull each other, so that every
 * second step follows the spread of the draws so far (Haario, Saksman & Tamminen, Bernoulli 7, 2001; from memory).
 */
export function drawForms(
  start: readonly number[],
  steps: readonly number[],
  logOf: (p: readonly number[]) => number,
  unpack: (p: readonly number[]) => PulseForm,
): PulseForm[] {
  const random = seededRandom(41);
  const free = [...steps.keys()].filter((j) => steps[j]! > 0);
  let p = [...start];
  let log = logOf(p);
  const draws: PulseForm[] = [];
  const seen: number[][] = [];
  let along: number[][] | null = null;
  for (let i = 0; i < DRAWS; i++) {
    if (i > 0 && i % LEARN_EVERY === 0) along = squareRoot(spreadOf(seen, free));
    const next = [...p];
    if (along && i % 2 === 1) {
      const z = free.map(() => random.normal());
      const size = (2.4 / Math.sqrt(free.length)) * (i % 4 === 1 ? 1 : 0.4);
      free.forEach((j, r) => {
        for (let c = 0; c <= r; c++) next[j]! += size * along![r]![c]! * z[c]!;
      });
    } else {
      const size = [0.1, 0.4, 1.5, 6][(i >> 1) % 4]!;
      for (const j of free) next[j]! += size * steps[j]! * random.normal();
    }
    const nextLog = logOf(next);
    if (Math.log(random.uniform(1e-12, 1)) < nextLog - log) {
      p = next;
      log = nextLog;
    }
    seen.push(p);
    if (i >= DRAWS / 3 && i % KEEP_EVERY === 0) draws.push(unpack(p));
  }
  return draws;
}

/** Covariance of the free parameters over all states so far. */
function spreadOf(seen: readonly (readonly number[])[], free: readonly number[]): number[][] {
  const mean = free.map((j) => seen.reduce((sum, p) => sum + p[j]! / seen.length, 0));
  return free.map((j, r) =>
    free.map((k, c) =>
      seen.reduce((sum, p) => sum + ((p[j]! - mean[r]!) * (p[k]! - mean[c]!)) / seen.length, 0),
    ),
  );
}

/** Lower triangle whose square is the matrix; directions without spread are left out. */
function squareRoot(matrix: readonly (readonly number[])[]): number[][] {
  const n = matrix.length;
  const root = Array.from({ length: n }, () => new Array<number>(n).fill(0));
  for (let r = 0; r < n; r++) {
    for (let c = 0; c <= r; c++) {
      let rest = matrix[r]![c]!;
      for (let k = 0; k < c; k++) rest -= root[r]![k]! * root[c]![k]!;
      if (r === c) root[r]![c] = Math.sqrt(Math.max(0, rest));
      else root[r]![c] = root[c]![c]! > 1e-12 ? rest / root[c]![c]! : 0;
    }
  }
  return root;
}

/**
 * A flash seen through a shutter looks the same when the two lengths change places: what is known of the shutter
 * beforehand tells how likely either is.
 */
export function orSwapped(
  { exposure, exposureSd }: KnownShutter,
  periodT: number,
): (form: PulseForm) => PulseForm {
  const random = seededRandom(43);
  return (form) => {
    const lengthT = 3 * form.decayT;
    const u = random.uniform(0, 1);
    if (lengthT > 1 || form.exposure > LONGEST_FLASH * periodT) return form;
    const off = (e: number) => ((e - exposure) / Math.max(0.02, exposureSd)) ** 2;
    const chance = 1 / (1 + Math.exp(0.5 * (off(lengthT) - off(form.exposure))));
    if (u >= chance) return form;
    const shift = lengthT - form.exposure;
    return { ...form, phaseT: form.phaseT + shift, exposure: lengthT, decayT: form.exposure / 3 };
  };
}

/** Means and spread of draws. */
export function summed(draws: readonly PulseForm[]): DrawnForm {
  const mean = (of: (f: PulseForm) => number) => draws.reduce((sum, f) => sum + of(f) / draws.length, 0);
  const exposure = mean((f) => f.exposure);
  return {
    draws,
    phaseT: mean((f) => f.phaseT),
    slopeT: mean((f) => f.slopeT),
    decayT: mean((f) => f.decayT),
    exposure,
    exposureSd: Math.hypot(Math.sqrt(mean((f) => (f.exposure - exposure) ** 2)), 0.01),
  };
}
