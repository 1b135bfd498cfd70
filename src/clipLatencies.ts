/** From what the light of a clip says to presses that are judged, and the latency of each in every screen region. */
import type { ClipFacts } from './clip/frameSource.js';
import type { ClipFindings } from './clipFindings.js';
import { type Latency, type LatencyConditions, latencyOf } from './latency/latencies.js';
import { isPulsed, lightDoubts } from './latency/lightDoubts.js';
import type { OnsetSet } from './onset/onset.js';
import { flagWide, isOtherEdge } from './press/clipDoubts.js';
import { type JudgedPresses, judgePresses } from './press/judgePresses.js';
import type { Recipe } from './record/recipe.js';
import { readoutPosition } from './region/geometry.js';

/** What a screen region answered. */
export interface RegionLatencies {
  readonly screen: OnsetSet;
  /** One a press, in the order of the presses; null where there is no measured response. */
  readonly latencies: readonly (Latency | null)[];
  /** Those of measured presses: they enter the statistics. */
  readonly counted: readonly Latency[];
  /** Difference of readout position, region less LED, 0..1 of the picture. */
  readonly readoutDistance: number;
}

/** Presses and latencies of a clip. The pairings carry the flags of latencies that are not known to a camera frame. */
export interface ClipLatencies extends JudgedPresses {
  /** One a screen region, in the order of the findings. */
  readonly regions: readonly RegionLatencies[];
  /** The LED rests in the state that a press is said to bring about. */
  readonly otherEdge: boolean;
  /** From the first frame to the end of the last, s. */
  readonly durationS: number;
}

/**
 * Pairs, judges and times. Pure.
 * @param regionsUnsure the regions were found, and should be looked at before they are believed.
 */
export function clipLatencies(
  findings: ClipFindings,
  facts: ClipFacts,
  recipe: Recipe,
  regionsUnsure: boolean,
): ClipLatencies {
  const { frames, clock, led, screens, screenLights } = findings;
  const durationS = clock.capturedAtS[frames - 1]! + clock.periodS;
  const edgeSign = recipe.cue.edge === 'press' ? 1 : -1;
  const otherEdge = isOtherEdge(led, durationS, edgeSign);
  const judged = judgePresses(
    led,
    screens,
    clock,
    {
      edgeSign,
      windowS: [recipe.response.windowMs[0] / 1000, recipe.response.windowMs[1] / 1000],
      decisions: recipe.decisions,
    },
    {
      durationS,
      doubts: [
        ...(regionsUnsure ? ['regions-unsure'] : []),
        ...(otherEdge ? ['led-rests-the-other-way'] : []),
        ...(screens.some((s, i) => screenLights[i]!.saturated && isPulsed(s)) ? ['clipped-pulses'] : []),
      ],
    },
  );
  const regions = screens.map((screen, i): RegionLatencies => {
    const conditions = conditionsOf(findings, i, facts, recipe);
    const latencies = judged.pairing.presses.map((press) => latencyOf(press, screen.region.name, conditions));
    const counted = latencies.filter(
      (l, k): l is Latency => l !== null && judged.pairing.presses[k]!.status === 'measured',
    );
    return { screen, latencies, counted, readoutDistance: conditions.readoutDistance };
  });
  const isWide = (press: number, region: string) => {
    const latency = regions.find((r) => r.screen.region.name === region)?.latencies[press];
    return latency ? latency.uncertaintyMs > clock.periodS * 1000 : false;
  };
  return {
    answered: flagWide(judged.answered, isWide),
    pairing: flagWide(judged.pairing, isWide),
    notes: judged.notes,
    ...{ regions, otherEdge, durationS },
  };
}

/** What is known of camera, cue and one screen region. */
function conditionsOf(
  { clock, readout, exposure, tone, ledLight, screens, screenLights }: ClipFindings,
  index: number,
  facts: ClipFacts,
  { cue }: Recipe,
): LatencyConditions {
  const screen = screens[index]!;
  return {
    periodMs: clock.periodS * 1000,
    rateUncertaintyRel: clock.rateUncertaintyRel,
    timestampMs: clock.irregularityS * 1000,
    exposureSd: exposure.sd,
    readoutSd: readout.sd,
    readoutDistance: readoutPosition(screen.region, facts) - readoutPosition(ledLight.region, facts),
    cueDelayMs: cue.delayMs,
    cueDelayUncertaintyMs: cue.delayUncertaintyMs,
    shapeMs: screen.shapeSdS * 1000,
    ...lightDoubts(ledLight, screenLights[index]!, screen, exposure.fraction, tone),
  };
}
