/** Where the search for a lattice of pulses starts: a grid over slopes, phases and lengths. */
import type { PulseForm } from './pulseForm.js';
import type { BentForm } from './trainCost.js';

const DECAYS = [0.05, 0.2, 0.6];
// A third of a flash's length.
const FLASH_DECAYS = [0.025, 0.08, 0.2, 0.4];
const PHASE_STEP = 0.12;
// Slopes are tried so closely that a pulse's way over the regions differs by this from one to the next, but not more of them.
const SWEEP_STEP = 0.3;
const MOST_SLOPES = 16;
/** A tube stands upside down in front of a camera only where the light says so beyond doubt. */
export const UPWARDS_COST = 2;

/** Slopes to start from: upwards, none, and downwards in small steps. */
export function slopeGrid(slopesT: readonly number[], high: number, reachPx: number): number[] {
  const low = slopesT.find((s) => s > 0);
  if (low === undefined) return [...slopesT];
  const count = Math.min(MOST_SLOPES, Math.max(2, Math.ceil(((high - low) * reachPx) / SWEEP_STEP) + 1));
  const down = Array.from({ length: count }, (_, i) => low + ((high - low) * i) / (count - 1));
  return [...slopesT.filter((s) => s <= 0), ...down];
}

/** The form on the grid that costs least. */
export function gridStart(
  cost: (form: BentForm) => number,
  periodT: number,
  exposure: number,
  slopesT: readonly number[],
  centrePx: number,
): PulseForm {
  let best: PulseForm = { phaseT: 0, slopeT: 0, decayT: DECAYS[0]!, exposure };
  let least = Number.POSITIVE_INFINITY;
  const consider = (slopeT: number, decayT: number, phaseT: number) => {
    const form = { phaseT, slopeT, decayT, exposure, bend: 0 };
    const c = cost(form) * (slopeT < 0 ? UPWARDS_COST : 1);
    if (c >= least) return;
    least = c;
    best = form;
  };
  for (const slopeT of slopesT) {
    for (const decayT of slopeT === 0 ? FLASH_DECAYS : DECAYS) {
      for (let phaseT = 0; phaseT < periodT; phaseT += PHASE_STEP) consider(slopeT, decayT, phaseT);
    }
  }
  // Between two slopes of the grid a pulse may take another way over the rows that no descent finds.
  const down = slopesT.filter((s) => s > 0);
  const step = down.length > 1 ? down[1]! - down[0]! : 0;
  for (const scale of best.slopeT > 0 && step > 0 ? [0.5, 0.25, 0.12] : []) {
    const { slopeT, phaseT, decayT } = best;
    for (const side of [-1, 1]) {
      const slope = slopeT + side * scale * step;
      const at = phaseT - (slope - slopeT) * centrePx;
      for (let i = -4; i <= 4; i++) consider(slope, decayT, at + (i * PHASE_STEP) / 2);
    }
  }
  return best;
}
