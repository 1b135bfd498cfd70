/**
 * Displays in step with the camera's frames. Light that comes in pulses at one phase of the frames looks steady; what gives
 * it away is that none of its changes ever shows a partly lit frame, though the shutter is open for most of the time.
 */

/** A change as the frames show it. */
export interface SeenEdge {
  /** The part of its step by which a frame in its midst stays away from both plateaus, 0..0.5. */
  readonly partlyLit: number;
  /** Start of exposure of the first frame that shows some of it, s on the capture clock. */
  readonly firstLitS: number;
}

/** How likely it is that steady light comes in pulses that keep pace with the frames. */
export interface InStep {
  /** 0..1. */
  readonly chance: number;
  /** True where the stated refresh says that pulses would look steady. */
  readonly isStated: boolean;
}

/** A frame nearer to a plateau than this part of the step is not partly lit. */
export const PARTLY = 0.1;
// Changes that differ from the others by another cause (a step of the exposure, a hand).
const ODD = 0.05;
/** Shares of displays beforehand: in step with the frames or not, in pulses or held (judgement). */
const STATED = { moves: 0, held: 0.5, pulsed: 0.5 } as const;
const UNSTATED = { moves: 0.94, held: 0.03, pulsed: 0.03 } as const;
// Of both so many take some time to respond (cells that settle), which shows partly lit frames always (judgement).
const SLOW = 0.5;
// A chance below this is not worth a word.
const LEAST_CHANCE = 0.25;

/**
 * Weighs pulses in step with the frames against light that is held.
 * @param edges of all regions of the display.
 * @param exposure exposure fraction.
 * @param isStated whether the refresh is stated, and pulses at it would look steady.
 * @returns null where such pulses need not be thought of.
 */
export function judgeInStep(edges: readonly SeenEdge[], exposure: number, isStated: boolean): InStep | null {
  const partly = edges.filter((e) => e.partlyLit > PARTLY).length;
  const never = edges.length - partly;
  const prior = isStated ? STATED : UNSTATED;
  // An instant change of light that is held falls into the open part of a frame with the chance `exposure`; in step with
  // the frames all of them do, or none.
  const open = exposure * (1 - 2 * PARTLY);
  const mixed = (share: number) => share ** partly * (1 - share) ** never;
  const always = mixed(1 - ODD);
  const hardly = mixed(ODD);
  const moves = prior.moves * (SLOW * always + (1 - SLOW) * mixed(open));
  const held = prior.held * (SLOW * always + (1 - SLOW) * (open * always + (1 - open) * hardly));
  const pulsed = prior.pulsed * (SLOW * always + (1 - SLOW) * hardly);
  const sum = moves + held + pulsed;
  const chance = sum > 0 ? pulsed / sum : 0;
  return isStated || chance > LEAST_CHANCE ? { chance, isStated } : null;
}

/** How much later a change is expected to be than light that is held would make it, and the standard uncertainty of that, s. */
export interface Delay {
  readonly lateS: number;
  readonly sdS: number;
}

/**
 * The delay of light that is held or comes in pulses: a pulse lies anywhere in the exposure of the first frame that it
 * lights.
 * @param opensS start of that exposure after the time of the change if the light is held, s.
 */
export function pulseDelay({ chance }: InStep, opensS: number, exposureS: number): Delay {
  const pulsedS = opensS + exposureS / 2;
  const variance = chance * (exposureS ** 2 / 12 + pulsedS ** 2) - (chance * pulsedS) ** 2;
  return { lateS: chance * pulsedS, sdS: Math.sqrt(variance) };
}
