/** From the light's advance per camera frame to the capture rate: which whole number of cycles was left out. */

/** Rates at which cameras film, Hz. */
const USUAL_RATES_HZ = [
  24, 25, 30, 50, 60, 90, 100, 120, 200, 240, 300, 400, 480, 500, 600, 960, 1000, 1920,
] as const;

/** Nearer than this to what is declared, the light only refines it (containers 2.2). */
const AGREES = 0.02;
/** A rate that the declared one says nothing about must be this near a usual one. */
const USUAL = 0.003;
/** From here on a file is stretched; between real time and this it is neither (containers 2.2). */
const STRETCHED_FROM = 1.9;
/** Two aliases this near the declared rate cannot be told apart: sensors run up to this much beside their rate. */
const SENSOR = 0.005;

/** What the light says about the rate. */
export type LightRate =
  | {
      readonly rateHz: number;
      /** Whole and broken cycles of the light in one capture period. */
      readonly cyclesPerFrame: number;
      /** 1 where coded rows are read out downwards, -1 upwards. */
      readonly direction: 1 | -1;
      /** True where it overrules what was declared. */
      readonly overrules: boolean;
      readonly ambiguous: boolean;
    }
  | { readonly rateHz: null; readonly nearestHz: number; readonly usualHz: readonly number[] };

/** What is known beside the light. */
export interface RateQuestion {
  readonly lightHz: number;
  /** Advance, cycles modulo 1, when bands run downwards over the coded rows. */
  readonly advance: number;
  /** False where the bands' own direction is no evidence (no readout to be seen, or an advance of half a cycle). */
  readonly directed: boolean;
  /** Capture rate by statement, tag or timestamps, Hz; null where nothing says it. */
  readonly declaredHz: number | null;
  /** Rate of the file's timestamps, Hz. */
  readonly mediaHz: number;
}

/**
 * Resolves the alias. The declared rate only chooses among the rates f / (m + a) that the light allows; where none is
 * within 2 % of it, the one usual rate that the light allows overrules it, if the file can be that rate or slow motion.
 */
export function rateFromLight(question: RateQuestion): LightRate {
  const { lightHz, advance, directed, declaredHz, mediaHz } = question;
  const near = (wantedHz: number, direction: 1 | -1) => {
    const cycles = lightHz / wantedHz;
    const broken = direction * advance;
    const order = Math.max(broken > 0 ? 0 : 1, Math.round(cycles - broken));
    const cyclesPerFrame = order + broken;
    const rateHz = lightHz / cyclesPerFrame;
    return { rateHz, cyclesPerFrame, direction, off: Math.abs(rateHz / wantedHz - 1) };
  };
  const nearest = (wantedHz: number) => {
    const down = near(wantedHz, 1);
    const up = near(wantedHz, -1);
    // Rows are read downwards unless only the other way fits.
    const chosen = directed && down.off <= AGREES ? down : up.off < down.off ? up : down;
    const other = chosen === down ? up : down;
    return { chosen: directed ? chosen : ({ ...chosen, direction: 1 } as const), other };
  };
  if (declaredHz !== null) {
    const { chosen, other } = nearest(declaredHz);
    if (chosen.off <= AGREES) {
      const step = declaredHz / lightHz;
      const sameRate = Math.abs(chosen.rateHz / other.rateHz - 1) < 1e-4;
      const ambiguous = step < 2 * SENSOR || (!directed && other.off < SENSOR && !sameRate);
      const { rateHz, cyclesPerFrame, direction } = chosen;
      return { rateHz, cyclesPerFrame, direction, overrules: false, ambiguous };
    }
  }
  const fits = USUAL_RATES_HZ.filter((usualHz) => {
    const ratio = usualHz / mediaHz;
    return (Math.abs(ratio - 1) <= AGREES || ratio >= STRETCHED_FROM) && nearest(usualHz).chosen.off <= USUAL;
  });
  if (fits.length === 1) {
    const { rateHz, cyclesPerFrame, direction } = nearest(fits[0]!).chosen;
    return { rateHz, cyclesPerFrame, direction, overrules: true, ambiguous: false };
  }
  const nearestHz = nearest(declaredHz ?? mediaHz).chosen.rateHz;
  return { rateHz: null, nearestHz, usualHz: fits };
}
