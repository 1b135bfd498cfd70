/** A backlight's gate that opens once a refresh, as the lattice of flashes that it is. */
import type { Gate } from './gate.js';
import type { PulseForm } from './pulseForm.js';
import type { PulseTrain } from './pulseTrain.js';
import { FINEST_RESIDUAL } from './stillLight.js';
import { orSwapped } from './trainDraws.js';

const DRAWS = 200;

/**
 * Flashes are counted one by one, without a form of the response: a flash that no frame caught is then known to be one.
 * @param shutter what is known of it beforehand.
 */
export function flashesOf(
  gate: Gate,
  shutter: { readonly exposure: number; readonly exposureSd: number },
): PulseTrain {
  const { periodT, duty, exposure, exposureSd, residual } = gate;
  const form: PulseForm = { phaseT: gate.startT, slopeT: 0, decayT: (duty * periodT) / 3, exposure };
  const swapped = orSwapped(shutter, periodT);
  const draws = Array.from({ length: DRAWS }, (_, i) =>
    swapped({ ...form, phaseT: form.phaseT + (i % 2 === 0 ? gate.startSdT : -gate.startSdT) }),
  );
  return {
    ...form,
    periodT,
    exposureSd,
    residual,
    tolerance: FINEST_RESIDUAL,
    isLocked: false,
    misfit: 0,
    draws,
  };
}
