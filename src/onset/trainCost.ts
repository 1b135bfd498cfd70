/** What a lattice of pulses makes of the light of still pictures. */
import type { PulseForm } from './pulseForm.js';
import { pulseTable } from './pulseForm.js';
import { fitStill, type StillFit } from './stillLight.js';

/** Light of one band of rows in still pictures. Times in capture periods. */
export interface BandData {
  readonly openT: Float64Array;
  readonly values: Float64Array;
  readonly startAt: (slopeT: number) => number;
  readonly heightPx: number;
}

/** A form with the bend of the camera's tone curve, `g (1 + bend (1 - g / most))`, which half-caught pulses show as well. */
export interface BentForm extends PulseForm {
  readonly bend: number;
}

/** How a lattice explains the light. Bands whose pulses fall behind the closed shutter hold no light and so do not count. */
export function trainFit(data: readonly BandData[]): (form: BentForm, periodT: number) => StillFit {
  const tables = new Map<string, (t: number) => number>();
  const tableOf = (sweepT: number, decayT: number) => {
    const key = `${sweepT}/${decayT}`;
    let table = tables.get(key);
    if (!table) {
      if (tables.size > 200) tables.clear();
      table = pulseTable(sweepT, decayT);
      tables.set(key, table);
    }
    return table;
  };
  return ({ phaseT, slopeT, decayT, exposure, bend }, periodT) => {
    return fitStill(data, bend, ({ openT, values, startAt, heightPx }) => {
      const offset = phaseT + startAt(slopeT);
      const sweepT = Math.abs(slopeT) * heightPx;
      const come = tableOf(sweepT, decayT);
      const caught = (open: number): number => {
        const since = open - offset;
        const latest = since - Math.floor((since + exposure) / periodT) * periodT;
        let g = 0;
        for (let d = 0; d < 3; d++) g += come(latest + d * periodT + exposure) - come(latest + d * periodT);
        return g;
      };
      return { openT, values, caught, most: mostCaught(come, sweepT, decayT, exposure) };
    });
  };
}

/** The largest share of a pulse that one exposure may catch: about its middle for a flash, from its start for phosphor. */
function mostCaught(come: (t: number) => number, sweepT: number, decayT: number, exposure: number): number {
  const lengthT = sweepT === 0 ? 3 * decayT : sweepT;
  const from = Math.max(0, (lengthT - exposure) / 2);
  return Math.max(0.05, come(from + exposure) - come(from));
}
