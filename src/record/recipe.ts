/** The recipe: what a person decided about one clip. Keys fixed by the design; `null` or left out means "work it out". */
import type { DisplayScan } from '../latency/displayReadout.js';
import type { Region } from '../region/region.js';

/** A person's decision on one press. Of several on one press the last in the list holds; the earlier ones are kept. */
export interface Decision {
  /** LED onset on the capture clock; matched to the nearest press within 50 ms. */
  readonly pressAtS: number;
  /** `restore` takes an earlier exclusion back. */
  readonly decision: 'exclude' | 'restore';
  readonly reason: string;
}

/** The recipe file. */
export interface Recipe {
  readonly format: 'lagreel-recipe';
  readonly version: 1;
  readonly clip: { readonly file: string; readonly sha256: string; readonly bytes: number };
  readonly labels: Readonly<Record<string, string>>;
  /** Pixels of the upright picture. */
  readonly regions: readonly Region[];
  readonly capture: {
    readonly rateHz: number | null;
    readonly exposureFraction: number | null;
    readonly readoutFraction: number | null;
  };
  readonly display: {
    readonly refreshHz: number | null;
    /** Where the display's first line begins and its last one ends (upright rows), and its signal; left out: not told. */
    readonly scan?: DisplayScan;
  };
  readonly cue: {
    readonly edge: 'press' | 'release';
    /** How long after the contact the LED lights (or goes out), ms. */
    readonly delayMs: number;
    readonly delayUncertaintyMs: number;
  };
  readonly response: { readonly level: number; readonly windowMs: readonly [number, number] };
  readonly decisions: readonly Decision[];
}
