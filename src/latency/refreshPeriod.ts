/** The display's refresh: stated by the user, or read off its pulses, or off the lattice on which the responses fall. */
import type { OnsetSet } from '../onset/onset.js';
import type { Press } from '../press/pairPresses.js';
import { fitLattice } from '../stats/lattice.js';
import { phaseUniformity } from '../stats/phaseUniformity.js';

/** Where the period of the wait comes from. */
export interface RefreshPeriod {
  readonly periodMs: number | null;
  readonly source: 'stated' | 'measured' | 'assumed' | 'none';
  /** Period as the clip itself shows it, ms; null where it does not. */
  readonly measuredMs: number | null;
  readonly warnings: readonly string[];
}

// Rates that displays run at; consoles up to 0.3 % beside them, which the search covers.
const USUAL_HZ = [50, 60, 75, 100, 120, 144, 165, 240];
const LEAST_RESPONSES = 6;

/**
 * Period of the wait with its source, and whether the presses were locked to it.
 * @param statedHz the user's own word, or null.
 */
export function refreshPeriod(
  statedHz: number | null,
  screens: readonly OnsetSet[],
  presses: readonly Press[],
): RefreshPeriod {
  const measuredMs = measuredPeriod(statedHz, screens, presses);
  const warnings: string[] = [];
  if (statedHz !== null && measuredMs !== null && Math.abs(measuredMs * statedHz - 1000) > 4) {
    warnings.push(
      `The display was stated to refresh at ${statedHz} Hz, but its picture changes on a lattice of ${(1000 / measuredMs).toFixed(2)} Hz.`,
    );
  }
  const periodMs = statedHz === null ? measuredMs : 1000 / statedHz;
  const phasePeriodMs = measuredMs ?? periodMs;
  if (phasePeriodMs !== null && presses.length >= 8) {
    const phases = phaseUniformity(
      presses.map((p) => p.led.levelS * 1000),
      phasePeriodMs,
    );
    if (phases.warning !== null) warnings.push(phases.warning);
  }
  if (periodMs === null) {
    warnings.push(
      'The refresh rate of the display is not known, so that the wait for it cannot be told from jitter: state it with --refresh.',
    );
  }
  const source = statedHz !== null ? 'stated' : measuredMs !== null ? 'measured' : 'none';
  return { periodMs, source, measuredMs, warnings };
}

function measuredPeriod(
  statedHz: number | null,
  screens: readonly OnsetSet[],
  presses: readonly Press[],
): number | null {
  const pulsed = screens.find((s) => s.refreshHz !== null);
  if (pulsed?.refreshHz) return 1000 / pulsed.refreshHz;
  let best: { periodMs: number; n: number } | null = null;
  for (const screen of screens) {
    const responses = presses.flatMap((p) =>
      p.responses.filter((r) => r.region === screen.region.name && r.onset !== null).map((r) => r.onset!),
    );
    if (responses.length < LEAST_RESPONSES) continue;
    const fit = fitLattice(
      responses.map((o) => o.levelS * 1000),
      {
        candidatesMs: statedHz === null ? USUAL_HZ.map((hz) => 1000 / hz) : [1000 / statedHz],
        uncertaintyMs: 1000 * Math.max(...responses.map((o) => o.sdS)),
      },
    );
    if (fit.found && (best === null || fit.n > best.n)) best = { periodMs: fit.periodMs, n: fit.n };
  }
  return best?.periodMs ?? null;
}
